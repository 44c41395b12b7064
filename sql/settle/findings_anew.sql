-- What rules have found that is told anew: of records that were settled anew, of rows that came since, and of all feeds,
-- of which little is found.
--
-- creates:  findings_anew

create or replace temp view findings_anew as
select *
from findings
where table_name not in ('operations', 'components', 'reasons') or record_id in (select record_id from scope_records)
