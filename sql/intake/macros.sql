-- How the text of a cell becomes a value. Null is what cannot be read; a rule then finds it.
--
-- creates:  iso_date, whole_number, yes_no

create or replace temp macro iso_date(cell) as
    case when regexp_full_match(cell, '[0-9]{4}-[0-9]{2}-[0-9]{2}') then try_cast(cell as date) end;
create or replace temp macro whole_number(cell) as
    case when regexp_full_match(cell, '[0-9]{1,9}') then try_cast(cell as integer) end;
create or replace temp macro yes_no(cell) as
    case cell when 'yes' then true when 'no' then false end;
