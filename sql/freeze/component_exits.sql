-- When each component of a revised joint came out. One taken out by its catalogue number is the
-- earliest of that number still in; one taken out without, or under a number that is not in, is the
-- earliest of its role still in. Where a form forgets the removal, the next component of a place
-- that a joint has once shows that the one before came out, unless it was added beside it; and where
-- a form lists none that came out, what was done says which did. An exchange of bearings that lists
-- what went in took out no more than that.
--
-- creates:  component_exits

create or replace temp table component_exits as
with

ins as (
    select
        *,
        row_number() over (partition by joint_no, role, catalogue_no order by order_no, line_no) as nth_of_number
    from component_moves
    where action = 'implanted'
),

outs as (
    select
        *,
        row_number() over (partition by joint_no, role, catalogue_no order by order_no, line_no) as nth_of_number
    from component_moves
    where action = 'removed'
),

by_number as (
    select
        i.joint_no, i.operation_id, i.line_no,
        o.operation_id as out_operation, o.line_no as out_line, o.day as out_day, o.out_reason
    from ins as i
    join outs as o
        on o.joint_no = i.joint_no and o.role = i.role and o.catalogue_no = i.catalogue_no
        and o.nth_of_number = i.nth_of_number and o.order_no > i.order_no
),

ins_left as (
    select i.*, row_number() over (partition by i.joint_no, i.role order by i.order_no, i.line_no) as nth_of_role
    from ins as i
    anti join by_number as b on b.operation_id = i.operation_id and b.line_no = i.line_no
),

outs_left as (
    select o.*, row_number() over (partition by o.joint_no, o.role order by o.order_no, o.line_no) as nth_of_role
    from outs as o
    anti join by_number as b on b.out_operation = o.operation_id and b.out_line = o.line_no
),

removed as (
    select operation_id, line_no, out_day, out_reason from by_number
    union all
    select i.operation_id, i.line_no, o.day as out_day, o.out_reason
    from ins_left as i
    join outs_left as o
        on o.joint_no = i.joint_no and o.role = i.role and o.nth_of_role = i.nth_of_role and o.order_no > i.order_no
),

replaced as (
    select i.operation_id, i.line_no, min(n.day) as out_day, arg_min(n.out_reason, n.order_no) as out_reason
    from ins as i
    join ins as n on n.joint_no = i.joint_no and n.place = i.place and n.order_no > i.order_no
    where not n.is_added
    group by i.operation_id, i.line_no
),

silent as (
    select o.joint_no, o.order_no, o.day, o.action, r.reason as out_reason
    from joint_operations as o
    left join reason_counts as r on r.version_no = o.version_no
    anti join outs as t on t.operation_id = o.operation_id
    anti join (select operation_id from ins where is_bearing) as b
        on b.operation_id = o.operation_id and o.action = 'bearing exchange only'
    where o.order_no > 0
),

concluded as (
    select i.operation_id, i.line_no, s.day as out_day, s.out_reason
    from ins as i
    join silent as s on s.joint_no = i.joint_no and s.order_no > i.order_no
    join taken_out as t on t.joint = i.joint and t.action = s.action and t.role = i.role
),

ends as (
    select operation_id, line_no, out_day, out_reason from removed
    union all
    select operation_id, line_no, out_day, out_reason from replaced
    union all
    select operation_id, line_no, out_day, out_reason from concluded
)

select operation_id, line_no, min(out_day) as out_day, arg_min(out_reason, out_day) as out_reason
from ends
group by operation_id, line_no
