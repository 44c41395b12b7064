-- Well-formed rows of a feed go to the store as new versions.
--
-- writes:   {table}
-- needs:    table, file, columns

insert into {table} by name
select place as version_no, submission_no, row_no, known_from, null as known_to, false as repeats, {columns}
from read_{file}
where not repeats_row
    and place not in (select place from row_findings where table_name = '{file}' and severity = 'reject')
