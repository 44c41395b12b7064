-- How many operations were received and are held back.
--
-- grain:    one row
-- reads:    held_rows
-- columns:  operations bigint

select count(distinct record_id) as operations
from held_rows
where table_name = 'operations' and severity = 'hold'
