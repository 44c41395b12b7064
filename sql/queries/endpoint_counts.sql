-- Joints that left follow-up for an endpoint on the joint's clock, by group, day and outcome: follow-up goes
-- on past revisions that the endpoint ignores. Most joints were never revised and are counted as they stand;
-- only the others look at their revisions. Treatment 0 is the event, 1 competes, 2 censors, 3 is ignored;
-- on one day the lower counts.
--
-- grain:    the grouping columns, day, outcome
-- reads:    follow_up, revision_episodes
-- needs:    grouping, treatment, reason, no_reason, competing, predicate
-- columns:  day      integer   whole days since implantation
--           outcome  integer   0 censored, 1 died or otherwise revised, 2 and more the event for a reason
--           joints   integer   joints of the group that left follow-up on that day in that way
with

treated as (
    select
        joint_no,
        sequence,
        day,
        {treatment} as treatment,
        2 + coalesce(enum_code({reason})::integer, {no_reason}) as reason
    from revision_episodes
),

ends as (
    select
        joint_no,
        min(day) as day,
        arg_min(treatment, row(day, treatment, sequence)) as treatment,
        arg_min(reason, row(day, treatment, sequence)) as reason
    from treated
    where treatment < 3
    group by joint_no
),

revised as (
    select {grouping} joint_no, followed_days, followed_end from follow_up where ended = 'revised' and ({predicate})
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
        revised.* exclude (joint_no, followed_days, followed_end),
        least(ends.day, revised.followed_days) as day,
        case
            when ends.day <= revised.followed_days and ends.treatment = 0 then ends.reason
            when ends.day <= revised.followed_days and ends.treatment = 1 then {competing}
            when ends.day < revised.followed_days and ends.treatment = 2 then 0
            when revised.followed_end = 'died' then 1
            else 0
        end as outcome
    from revised
    left join ends on ends.joint_no = revised.joint_no
)

select leaving.*, count(*)::integer as joints
from leaving
group by all
