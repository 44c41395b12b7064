-- Revisions as episodes. A second stage within twelve months after a first stage on the same joint
-- belongs to the latest such first stage: the episode has the first stage's date, reason and action,
-- and the extras of both. A clock since the revision starts once it is settled what was done: at the
-- operation, at the second of two stages, or where none came on the day its twelve months are over.
--
-- creates:  staged_operations, episodes

create or replace temp table staged_operations as
with

revisions as (
    select * from joint_operations where order_no > 0
),

firsts as (
    select s.operation_id, arg_max(f.operation_id, f.order_no) as first_id
    from revisions as s
    join revisions as f on f.joint_no = s.joint_no and f.order_no < s.order_no
    where s.stage = 'second of two' and f.stage = 'first of two'
        and s.operation_date <= f.operation_date + interval 12 month
    group by s.operation_id
)

select r.*, coalesce(f.first_id, r.operation_id) as episode_id
from revisions as r
left join firsts as f on f.operation_id = r.operation_id;

create or replace temp table episodes as
with stages as (
    select
        episode_id,
        min(day) filter (where operation_id <> episode_id) as reimplanted_day,
        bool_or(coalesce(stem_used, false)) as stem_used,
        bool_or(coalesce(augment_used, false)) as augment_used,
        bool_or(coalesce(graft_used, false)) as graft_used
    from staged_operations
    group by episode_id
)
select
    h.joint_no,
    row_number() over (partition by h.joint_no order by h.order_no) as sequence,
    h.operation_id,
    h.operation_date as revision_date,
    h.day,
    coalesce(h.stage, 'single') as stage,
    s.reimplanted_day,
    case
        when h.stage = 'first of two'
            then coalesce(s.reimplanted_day, h.day + ((h.operation_date + interval 12 month)::date - h.operation_date))
        else h.day
    end as restart_day,
    h.hospital_id,
    h.surgeon_id,
    coalesce(c.reason_group, 'not recorded') as reason_group,
    c.reason,
    coalesce(h.action, 'not recorded') as action,
    s.stem_used,
    s.augment_used,
    s.graft_used
from staged_operations as h
join stages as s on s.episode_id = h.operation_id
left join reason_counts as c on c.version_no = h.version_no
where h.episode_id = h.operation_id
