-- Which file each staged row came from, and where its rows begin.
--
-- creates:  staged_files

create or replace temp table staged_files (
    file_no       integer,
    table_name    varchar,
    submission_no integer,
    sender        varchar,
    received_date date,
    first_row     bigint
)
