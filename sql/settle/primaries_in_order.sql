-- Primaries of joints that have more than one, in the order of their dates.
--
-- creates:  primaries_in_order

create or replace temp table primaries_in_order as
with

crowded as (
    select patient_id, joint, side
    from standing_operations
    where kind = 'primary'
    group by all
    having count(*) > 1
),

-- The part of a knee that a primary replaces, where it replaces one part alone.
parts as (
    select
        *,
        case
            when class = 'patellofemoral' then class
            when class = 'partial' and compartment in ('medial', 'lateral') then compartment
        end as part
    from standing_operations
)
select
    o.version_no as place,
    o.operation_id as record_id,
    o.known_from,
    row_number() over in_order as nth,
    first_value(o.operation_id) over in_order as first_operation_id,
    coalesce(o.part <> first_value(o.part) over in_order, false) as other_compartment
from parts as o
semi join crowded as c on c.patient_id = o.patient_id and c.joint = o.joint and c.side = o.side
where o.kind = 'primary'
window in_order as (partition by o.patient_id, o.joint, o.side order by o.operation_date, o.operation_id)
