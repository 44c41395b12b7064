-- Primaries of joints that have more than one, in the order of their dates.
--
-- creates:  primaries_in_order

create or replace temp table primaries_in_order as
with crowded as (
    select patient_id, joint, side
    from standing_operations
    where kind = 'primary'
    group by all
    having count(*) > 1
)
select
    o.version_no as place,
    o.operation_id as record_id,
    o.known_from,
    row_number() over in_order as nth,
    first_value(o.operation_id) over in_order as first_operation_id,
    o.class = 'partial' and first_value(o.class) over in_order = 'partial'
        and o.compartment in ('medial', 'lateral')
        and first_value(o.compartment) over in_order in ('medial', 'lateral')
        and first_value(o.compartment) over in_order <> o.compartment as other_compartment
from standing_operations as o
semi join crowded as c on c.patient_id = o.patient_id and c.joint = o.joint and c.side = o.side
where o.kind = 'primary'
window in_order as (partition by o.patient_id, o.joint, o.side order by o.operation_date, o.operation_id)
