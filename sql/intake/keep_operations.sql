-- Well-formed operations go to the store as new versions.
--
-- writes:   operations
-- needs:    columns

insert into operations by name
select place as version_no, submission_no, row_no, known_from, null as known_to, false as repeats, {columns}
from read_operations
where not repeats_row
    and place not in (select place from row_findings where table_name = 'operations' and severity = 'reject')
