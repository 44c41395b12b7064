-- Operations on both sides of a joint on one day.
--
-- creates:  both_sides

create or replace temp table both_sides as
with pairs as (
    select patient_id, joint, operation_date, min(operation_id) as first_id, max(operation_id) as last_id
    from standing_operations
    group by patient_id, joint, operation_date
    having min(side) <> max(side)
)
select
    o.version_no as place, o.operation_id as record_id, o.known_from, o.operation_date,
    case when o.operation_id = p.first_id then p.last_id else p.first_id end as other_id
from standing_operations as o
join pairs as p on p.patient_id = o.patient_id and p.joint = o.joint and p.operation_date = o.operation_date
