-- Joints that were revised once, by group, day and outcome since then: when they left follow-up, and whether
-- for their next revision. The clock starts where the first revision says it does, which for a first stage
-- still open lies beyond follow-up: such a joint leaves on day 0.
--
-- grain:    the grouping columns, day, outcome
-- reads:    follow_up, revision_episodes
-- needs:    grouping, treatment, reason, no_reason, competing, predicate
-- columns:  day      integer   whole days since the first revision, as restart_day of revision_episodes has it
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
    where sequence > 1
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

firsts as (
    select joint_no, restart_day from revision_episodes where sequence = 1
),

revised as (
    select {grouping} joint_no, followed_days, followed_end from follow_up where {predicate}
),

leaving as (
    select
        revised.* exclude (joint_no, followed_days, followed_end),
        greatest(least(ends.day, revised.followed_days) - firsts.restart_day, 0) as day,
        case
            when ends.day <= revised.followed_days and ends.treatment = 0 then ends.reason
            when ends.day <= revised.followed_days and ends.treatment = 1 then {competing}
            when ends.day < revised.followed_days and ends.treatment = 2 then 0
            when revised.followed_end = 'died' then 1
            else 0
        end as outcome
    from revised
    inner join firsts on firsts.joint_no = revised.joint_no
    left join ends on ends.joint_no = revised.joint_no
)

select leaving.*, count(*)::integer as joints
from leaving
group by all
