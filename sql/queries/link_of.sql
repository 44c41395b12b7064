-- One operation record, and the primary it has if it is a revision that counts.
--
-- grain:    operation_id
-- reads:    operations, links
-- columns:  kind            varchar  primary or revision
--           joint           varchar  joint
--           operation_date  date     date of the operation
--           primary_id      varchar  operation record of its primary; null where it has none
select o.kind::varchar as kind, o.joint::varchar as joint, o.operation_date, l.primary_operation_id as primary_id
from operations as o
left join links as l on l.operation_id = o.operation_id
where o.operation_id = $operation_id
