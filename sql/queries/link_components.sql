-- What went in and came out at operations that a link may join.
--
-- grain:    operation_id, line_no
-- reads:    components
-- columns:  operation_id  varchar   operation record
--           line_no       smallint  line in the operation
--           action        varchar   implanted or removed
--           role          varchar   what it is in the joint
--           catalogue_no  varchar   catalogue number
--           lot           varchar   lot; empty where not recorded
--           serial        varchar   serial number; empty where not recorded
select operation_id, line_no, action::varchar as action, role::varchar as role, catalogue_no, lot, serial
from components
where list_contains($operation_ids, operation_id)
order by operation_id, line_no
