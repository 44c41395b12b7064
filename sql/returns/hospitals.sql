-- Hospitals with rows to look at again.
--
-- grain:    hospital
-- reads:    held_rows, noted_rows
select distinct hospital_id as hospital
from (
    select hospital_id, table_name from held_rows
    union all
    select hospital_id, table_name from noted_rows where severity = 'warn'
) as found
where table_name in ('operations', 'components', 'reasons')
order by hospital
