-- How the text of a cell becomes a value. Null is what cannot be read; a rule then finds it.
--
-- creates:  iso_date, year_of, whole_number, yes_no, shown_pseudonym

create or replace temp macro iso_date(cell) as
    case when regexp_full_match(cell, '[0-9]{4}-[0-9]{2}-[0-9]{2}') then try_cast(cell as date) end;
-- Of a birth ISO 8601 allows the year, or the year and month.
create or replace temp macro year_of(cell) as
    case when regexp_full_match(cell, '[0-9]{4}(?:-(?:0[1-9]|1[0-2]))?') then try_cast(cell[:4] as smallint) end;
create or replace temp macro whole_number(cell) as
    case when regexp_full_match(cell, '[0-9]{1,9}') then try_cast(cell as integer) end;
create or replace temp macro yes_no(cell) as
    case cell when 'yes' then true when 'no' then false end;
-- What is not of the agreed form might be a patient's own number, sent by mistake: it is never kept.
create or replace temp macro shown_pseudonym(cell, form) as
    case
        when cell = '' or regexp_full_match(cell, form) then cell
        else 'not shown, ' || length(cell) || ' characters'
    end;
