-- What was told of the rows of all other records stands beside what is told anew.
--
-- creates:  settled_findings
-- reads:    held_rows, noted_rows

create or replace temp view settled_findings as
select * from findings_told
union all
select f.*
from (from registry.held_rows union all by name from registry.noted_rows) as f
anti join scope_records as s on s.record_id = f.record_id
where f.table_name in ('operations', 'components', 'reasons')
