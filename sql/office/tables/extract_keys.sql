-- The key that decides the order of rows in extracts, so that an extract can be made again and nobody else can tell
-- which row is which joint. There is one, made for the first extract.
--
-- creates:  extract_keys
-- reads:    office_parts

create table extract_keys (
    number  integer primary key check (number = 1),
    key     text not null check (length(key) = 64),  -- 256 bits in hexadecimal
    made_at text not null                            -- UTC, ISO 8601, to the second
) strict;

create trigger extract_keys_are_not_changed before update on extract_keys
begin
    select raise(abort, 'the key of extracts is made once');
end;

create trigger extract_keys_are_not_removed before delete on extract_keys
begin
    select raise(abort, 'the key of extracts is made once');
end;
