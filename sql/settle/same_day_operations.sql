-- Operations of one kind on one joint and day, in the order in which their numbers were first
-- received.
--
-- creates:  same_day_operations

create or replace temp table same_day_operations as
with

crowded as (
    select patient_id, joint, side, operation_date, kind from standing_operations group by all having count(*) > 1
),

members as (
    select o.*
    from standing_operations as o
    semi join crowded as c
        on c.patient_id = o.patient_id and c.joint = o.joint and c.side = o.side
        and c.operation_date = o.operation_date and c.kind = o.kind
),

received as (
    select v.operation_id, min(v.known_from) as first_known
    from operations as v
    semi join members as m on m.operation_id = v.operation_id
    group by v.operation_id
),

parts as (
    select c.version_no, list(row(role, action, catalogue_no, lot) order by role, action, catalogue_no, lot) as parts
    from components as c
    semi join members as m on m.version_no = c.version_no
    group by c.version_no
)

select
    m.version_no as place,
    m.operation_id as record_id,
    m.known_from,
    row_number() over in_order as nth,
    first_value(m.operation_id) over in_order as first_operation_id,
    p.parts is not distinct from first_value(p.parts) over in_order as same_components
from members as m
join received as r on r.operation_id = m.operation_id
left join parts as p on p.version_no = m.version_no
window in_order as (
    partition by m.patient_id, m.joint, m.side, m.operation_date, m.kind order by r.first_known, m.operation_id
)
