-- The life of every component whose number is in the catalogue.
--
-- writes:   component_life

insert into cut.component_life by name
select
    j.joint_no,
    j.operation_id,
    c.line_no,
    c.role,
    k.implant,
    k.maker,
    c.catalogue_no,
    k.size,
    c.lot,
    0 as in_day,
    x.out_day,
    x.out_reason
from joints as j
join registry.components as c on c.version_no = j.version_no
join known_entries as k on k.catalogue_no = c.catalogue_no
left join component_exits as x on x.operation_id = j.operation_id and x.line_no = c.line_no
where c.action = 'implanted' and c.role is not null
    -- No condition to join on: the database might pair all joints of a kind with all entries for it.
    and coalesce(k.joint = j.joint, false)
union all by name
select
    m.joint_no,
    m.operation_id,
    m.line_no,
    m.role,
    m.implant,
    m.maker,
    m.catalogue_no,
    m.size,
    m.lot,
    m.day as in_day,
    x.out_day,
    x.out_reason
from component_moves as m
left join component_exits as x on x.operation_id = m.operation_id and x.line_no = m.line_no
where m.action = 'implanted' and m.order_no > 0 and m.is_known
