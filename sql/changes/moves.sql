-- What each step takes out of the event table of the earlier cut and puts in: joints by group, day and outcome. Step 0 is
-- the earlier cut itself; steps 1 to 5 replace what was learned since of the time up to its through-date, cause by cause;
-- step 6 adds what happened after it.
--
-- grain:    step, place, day, is_revised
-- reads:    states_earlier, joints_compared
-- columns:  step integer
--           place varchar[]
--           day bigint
--           is_revised boolean
--           joints hugeint

with

steps as (
    select step::integer as step from range(1, 6) as r(step)
),

at_steps as (
    select
        s.step,
        n.is_new,
        coalesce(stands_by <= s.step - 1 + n.is_new, false) as stands_anew,
        coalesce(ends_by <= s.step - 1 + n.is_new, false) as ends_anew,
        j.*
    from joints_compared as j
    join steps as s on s.step = j.stands_by or s.step = j.ends_by
    cross join (values (0), (1)) as n(is_new)
),

learned as (
    select
        step,
        is_new,
        case when stands_anew then place_after else place_before end as place,
        case when stands_anew then implanted_after else implanted_before end as implanted_date,
        case when ends_anew or not was_in then end_by_then else end_before end as end_date,
        case when ends_anew or not was_in then revised_by_then else revised_before end as is_revised,
        case when stands_anew then is_in_by_then else was_in end as is_in
    from at_steps
),

happened as (
    select
        6 as step, n.is_new, place_after as place, implanted_after as implanted_date,
        case when n.is_new = 1 then end_after else end_by_then end as end_date,
        case when n.is_new = 1 then revised_after else revised_by_then end as is_revised,
        case when n.is_new = 1 then is_in else is_in_by_then end as is_in
    from joints_compared
    cross join (values (0), (1)) as n(is_new)
    where is_in and (not is_in_by_then or end_after <> end_by_then or revised_after <> revised_by_then)
),

cells as (
    select 0 as step, place, end_date - implanted_date as day, is_revised, count(*) as joints
    from states_earlier
    group by all

    union all

    select step, place, greatest(end_date - implanted_date, 0), is_revised, sum(2 * is_new - 1)
    from (select * from learned union all by name select * from happened)
    where is_in
    group by all
)

select step, place, day, is_revised, sum(joints) as joints
from cells
group by all
having sum(joints) <> 0
order by step, place, day, is_revised
