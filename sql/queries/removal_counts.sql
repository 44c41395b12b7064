-- Joints whose primary put in a component of a role, by group, day and outcome: when the first of those came
-- out, and why the revision that took it out was done, or else when follow-up ended.
--
-- grain:    the grouping columns, day, outcome
-- reads:    component_life, follow_up, revision_episodes
-- needs:    grouping, reason, no_reason, predicate
-- columns:  day      integer   whole days since implantation
--           outcome  integer   0 censored, 1 died, 2 and more removed for a reason
--           joints   integer   joints of the group that left follow-up on that day in that way
with

removals as (
    select joint_no, operation_id, min(out_day) as day
    from component_life
    where role = try_cast($role as role_words) and in_day = 0 and out_day is not null
    group by joint_no, operation_id
),

-- The second of two stages may take a component out: the reason is that of the episode which had begun.
ends as (
    select
        removals.joint_no,
        removals.operation_id,
        removals.day,
        2 + coalesce(arg_max(enum_code({reason})::integer, revision_episodes.sequence), {no_reason}) as reason
    from removals
    left join revision_episodes
        on revision_episodes.joint_no = removals.joint_no and revision_episodes.day <= removals.day
    group by removals.joint_no, removals.operation_id, removals.day
),

revised as (
    select {grouping} joint_no, operation_id, followed_days, followed_end
    from follow_up
    where ended = 'revised' and ({predicate})
),

leaving as (
    select
        {grouping}
        days as day,
        case ended when 'died' then 1 else 0 end as outcome
    from follow_up
    where ended <> 'revised' and ({predicate})

    union all

    select
        revised.* exclude (joint_no, operation_id, followed_days, followed_end),
        least(ends.day, revised.followed_days) as day,
        case
            when ends.day <= revised.followed_days then ends.reason
            when revised.followed_end = 'died' then 1
            else 0
        end as outcome
    from revised
    left join ends on ends.joint_no = revised.joint_no and ends.operation_id = revised.operation_id
)

select leaving.*, count(*)::integer as joints
from leaving
group by all
