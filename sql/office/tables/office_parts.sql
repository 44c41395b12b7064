-- Which parts this office file has. A part is one file of sql/office/tables; one that is not listed is run when
-- somebody writes next, so a new table is a new file, and a change of a table is a file that reads it.
--
-- creates:  office_parts

create table office_parts (
    part    text primary key,  -- name of the SQL file
    made_by text not null,     -- the release that made it
    made_at text not null      -- UTC, ISO 8601
) strict
