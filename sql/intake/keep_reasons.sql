-- Well-formed reasons go to the store with their operation.
--
-- writes:   revision_reasons

insert into revision_reasons by name
select parent_no as version_no, row_no, line_no, reason, leads, note
from read_reasons
where not repeats_row
    and place not in (select place from row_findings where table_name = 'reasons' and severity = 'reject')
