-- What became of each operation of the files at hand: its components and reasons follow it.
--
-- creates:  operation_parents

create or replace temp table operation_parents as
select
    r.submission_no,
    r.operation_id,
    r.place as version_no,
    r.joint,
    r.operation_date,
    r.place in (select place from row_findings where table_name = 'operations' and severity = 'reject')
        as is_rejected
from read_operations as r
where not r.repeats_row
qualify row_number() over (partition by r.submission_no, r.operation_id order by r.row_no) = 1
