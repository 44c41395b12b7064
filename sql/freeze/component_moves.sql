-- Components put into and taken out of joints that were revised, with what the catalogue says.
--
-- creates:  component_moves

create or replace temp table component_moves as
select
    o.joint_no,
    o.joint,
    o.order_no,
    o.day,
    o.operation_id,
    c.line_no,
    c.role,
    c.action,
    c.catalogue_no,
    c.lot,
    k.implant,
    k.maker,
    k.size,
    p.place,
    coalesce(p.is_part, true) as is_part,
    coalesce(p.is_bearing, false) as is_bearing,
    coalesce(p.is_fixed, false) as is_fixed,
    coalesce(k.joint = o.joint, false) as is_known,
    coalesce(o.action = 'component added', false) as is_added,
    r.reason as out_reason
from joint_operations as o
join registry.components as c on c.version_no = o.version_no
left join roles as p on p.joint = o.joint and p.role = c.role
left join known_entries as k on k.catalogue_no = c.catalogue_no
left join reason_counts as r on r.version_no = o.version_no
where c.role is not null and c.action is not null
