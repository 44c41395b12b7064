-- What each episode did to the joint: told by the components that its operations list, and by what
-- was done where they list none.
--
-- creates:  episode_facts

create or replace temp table episode_facts as
with

lines as (
    select
        s.episode_id,
        bool_and(m.role = 'bearing insert') as inserts_alone,
        bool_and(m.role = 'patellar' and m.action = 'implanted') as patella_alone,
        bool_or(m.action = 'removed' and m.role <> 'bearing insert') as fixed_listed,
        bool_or(m.action = 'implanted' and k.class = 'total' and k.name_no is not null) as total_in
    from staged_operations as s
    join component_moves as m on m.operation_id = s.operation_id
    left join known_entries as k on k.catalogue_no = m.catalogue_no
    group by s.episode_id
),

fixed_out as (
    select distinct s.episode_id
    from component_moves as m
    join component_exits as x on x.operation_id = m.operation_id and x.line_no = m.line_no
    join staged_operations as s on s.joint_no = m.joint_no and s.day = x.out_day and s.order_no > m.order_no
    where m.action = 'implanted' and m.role <> 'bearing insert'
),

told as (
    select
        e.operation_id,
        e.action,
        j.class = 'partial' as was_partial,
        l.episode_id is null as nothing_listed,
        coalesce(l.inserts_alone, false) as inserts_alone,
        coalesce(l.patella_alone, false) as patella_alone,
        coalesce(l.fixed_listed, false) or f.episode_id is not null as fixed_out,
        coalesce(l.total_in, false) as total_in
    from episodes as e
    join joints as j on j.joint_no = e.joint_no
    left join lines as l on l.episode_id = e.operation_id
    left join fixed_out as f on f.episode_id = e.operation_id
)

select
    operation_id,
    fixed_out
    or (nothing_listed and action not in ('bearing exchange only', 'component added', 'not recorded'))
        as bone_fixed_removed,
    case
        when action = 'bearing exchange only' then nothing_listed or inserts_alone
        when action in ('one component exchanged', 'not recorded') then inserts_alone
        else false
    end as bearing_only,
    action in ('component added', 'not recorded') and patella_alone and not fixed_out as patella_added_only,
    was_partial and (action = 'partial to total' or total_in) as to_total,
    action in ('removal with spacer', 'removal without replacement') as emptied
from told
