-- Each joint's operations up to the end of its follow-up: its primary as number 0, then its
-- revisions in order.
--
-- creates:  joint_operations

create or replace temp table joint_operations as
with revisions as (
    select
        j.joint_no,
        row_number() over (partition by j.joint_no order by o.operation_date, o.operation_id) as order_no,
        o.operation_date - j.operation_date as day,
        o.*,
        v.action,
        v.stem_used,
        v.augment_used,
        v.graft_used
    from settled_links as l
    join cut_operations as o on o.operation_id = l.operation_id
    join registry.operations as v on v.version_no = o.version_no
    join joints as j on j.operation_id = l.primary_operation_id
    where o.operation_date <= j.limit_date
)
select * from revisions
union all by name
select j.joint_no, 0 as order_no, 0 as day, o.*
from joints as j
join cut_operations as o on o.version_no = j.version_no
semi join revisions as r on r.joint_no = j.joint_no
