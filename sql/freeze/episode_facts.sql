-- What each episode did to the joint: told by the components that its operations list, and by what
-- was done where they list none. Cement is no component.
--
-- creates:  episode_facts

create or replace temp table episode_facts as
with

lines as (
    select
        s.episode_id,
        bool_and(m.is_bearing) as bearings_alone,
        bool_and(m.role = 'patellar' and m.action = 'implanted') as patella_alone,
        bool_or(m.action = 'removed' and m.is_fixed) as fixed_listed
    from staged_operations as s
    join component_moves as m on m.operation_id = s.operation_id
    where m.is_part
    group by s.episode_id
),

-- Components that show a joint of another class than the primary's.
turned as (
    select
        s.episode_id,
        bool_or(t.to_class in ('total', 'anatomic', 'reverse')) as total_in,
        bool_or(t.to_class = 'reverse') as reverse_in
    from staged_operations as s
    join component_moves as m on m.operation_id = s.operation_id and m.action = 'implanted'
    join joints as j on j.joint_no = s.joint_no
    join conversions as t on t.joint = j.joint and t.from_class = j.class and t.role = m.role
    left join known_entries as k on k.catalogue_no = m.catalogue_no
    where k.class = t.to_class or (k.class is null and not t.by_catalogue)
    group by s.episode_id
),

fixed_out as (
    select distinct s.episode_id
    from component_moves as m
    join component_exits as x on x.operation_id = m.operation_id and x.line_no = m.line_no
    join staged_operations as s on s.joint_no = m.joint_no and s.day = x.out_day and s.order_no > m.order_no
    where m.action = 'implanted' and m.is_fixed
),

told as (
    select
        e.operation_id,
        e.action,
        j.class,
        l.episode_id is null as nothing_listed,
        coalesce(l.bearings_alone, false) as bearings_alone,
        coalesce(l.patella_alone, false) as patella_alone,
        coalesce(l.fixed_listed, false) or f.episode_id is not null as fixed_out,
        coalesce(t.total_in, false) as total_in,
        coalesce(t.reverse_in, false) as reverse_in
    from episodes as e
    join joints as j on j.joint_no = e.joint_no
    left join lines as l on l.episode_id = e.operation_id
    left join turned as t on t.episode_id = e.operation_id
    left join fixed_out as f on f.episode_id = e.operation_id
)

select
    operation_id,
    fixed_out
    or (nothing_listed
        and action not in ('bearing exchange only', 'component added', 'hemi to total', 'not recorded'))
        as bone_fixed_removed,
    case
        when action = 'bearing exchange only' then nothing_listed or bearings_alone
        when action in ('one component exchanged', 'not recorded') then bearings_alone
        else false
    end as bearing_only,
    action in ('component added', 'not recorded') and patella_alone and not fixed_out as patella_added_only,
    class in ('partial', 'patellofemoral', 'hemi') and (action in ('partial to total', 'hemi to total') or total_in)
        as to_total,
    class = 'anatomic' and (action = 'anatomic to reverse' or reverse_in) as to_reverse,
    action in ('removal with spacer', 'removal without replacement') as emptied
from told
