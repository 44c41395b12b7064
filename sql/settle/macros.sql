-- What counts as a serial number: not a word or a filler that forms put where there is none.
--
-- creates:  is_serial

create or replace temp macro is_serial(serial) as
    length(serial) > 3
    and not regexp_full_match(lower(trim(serial)), '(0+|x+|-+|none|unknown|not[ -]recorded|test)')
