-- Rows of one file that speak of the same record, and whether they agree.
--
-- creates:  repeated_{table}
-- needs:    table, key, key_of_s, same_key, content

create or replace temp table repeated_{table} as
with

repeated as (
    select file_no, {key} from staged_{table} group by all having count(*) > 1
),

told as (
    select s.bundle_row, s.file_no, {key_of_s}, row({content}) as content
    from staged_{table} as s
    semi join repeated as r on r.file_no = s.file_no and {same_key}
)

select
    bundle_row,
    row_number() over (partition by file_no, {key} order by bundle_row) as nth,
    max(content) over (partition by file_no, {key}) <> min(content) over (partition by file_no, {key}) as differs
from told
