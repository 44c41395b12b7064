-- Cumulative incidence of revision in each class, for each group of reasons and for any, death and every other
-- reason competing (Aalen & Johansen 1978). A step function: each row holds until the next day of its class and
-- reason. Nothing is withheld: mind at_risk, and read no row as valid beyond the longest follow-up.
--
-- grain:    joint, class, reason_group, day
-- reads:    follow_up
-- columns:  joint         varchar  knee, hip or shoulder
--           class         varchar  class of the primary
--           reason_group  varchar  group of the leading reason, or any revision
--           day           integer  whole days since implantation, a day with such a revision
--           years         double   the same in years of 365.25 days
--           at_risk       bigint   joints in follow-up just before that day's events
--           revised       bigint   joints revised for it on that day
--           revised_upto  bigint   joints revised for it up to and including that day
--           incidence     double   proportion of joints revised for it by the end of that day
with

leaving as (
    select
        joint,
        class,
        days as day,
        count(*) as leaving,
        count(*) filter (where ended in ('revised', 'died')) as events
    from follow_up
    group by joint, class, days
),

followed as (
    select
        joint,
        class,
        day,
        events,
        (sum(leaving) over (partition by joint, class order by day desc))::bigint as at_risk
    from leaving
),

free as (
    select
        joint,
        class,
        day,
        at_risk,
        -- Free of every event just before the day. Where everybody left has an event, nobody follows.
        exp(coalesce(sum(ln((at_risk - events) / at_risk)) filter (where events < at_risk) over before, 0)) as free
    from followed
    window before as (
        partition by joint, class order by day rows between unbounded preceding and 1 preceding
    )
),

revisions as (
    select joint, class, coalesce(reason_group::varchar, 'not recorded') as reason_group, days as day
    from follow_up
    where ended = 'revised'
),

revised as (
    select joint, class, reason_group, day, count(*) as revised
    from revisions
    group by joint, class, reason_group, day

    union all

    select joint, class, 'any revision' as reason_group, day, count(*) as revised
    from revisions
    group by joint, class, day
)

select
    revised.joint::varchar as joint,
    revised.class::varchar as class,
    revised.reason_group,
    revised.day,
    revised.day / 365.25::double as years,
    free.at_risk,
    revised.revised,
    (sum(revised.revised) over upto)::bigint as revised_upto,
    sum(free.free * revised.revised / free.at_risk) over upto as incidence
from revised
inner join free on free.joint = revised.joint and free.class = revised.class and free.day = revised.day
window upto as (partition by revised.joint, revised.class, revised.reason_group order by revised.day)
