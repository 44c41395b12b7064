-- Well-formed components go to the store with their operation.
--
-- writes:   components

insert into components by name
select parent_no as version_no, row_no, line_no, role, action, catalogue_no, lot, serial, expiry_date, udi
from read_components
where not repeats_row
    and place not in (select place from row_findings where table_name = 'components' and severity = 'reject')
