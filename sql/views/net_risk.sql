-- Net revision risk of each class: 1 - Kaplan-Meier, deaths and losses censored. A step function: each row
-- holds until the next day of its class. Nothing is withheld: mind at_risk, and read no row as valid beyond
-- the longest follow-up. Limits are 95 %, on the log(-log) scale (Kaplan & Meier 1958; Greenwood 1926).
--
-- grain:    joint, class, day
-- reads:    follow_up
-- columns:  joint    varchar  knee, hip or shoulder
--           class    varchar  class of the primary
--           day      integer  whole days since implantation, a day with a revision
--           years    double   the same in years of 365.25 days
--           at_risk  bigint   joints in follow-up just before that day's events
--           revised  bigint   joints revised on that day
--           risk     double   proportion revised by the end of that day, had nobody died or been lost
--           lower    double   lower limit; null where every joint is revised
--           upper    double   upper limit; null where every joint is revised
with

leaving as (
    select joint, class, days as day, count(*) as leaving, count(*) filter (where ended = 'revised') as revised
    from follow_up
    group by joint, class, days
),

followed as (
    select
        joint,
        class,
        day,
        revised,
        (sum(leaving) over (partition by joint, class order by day desc))::bigint as at_risk
    from leaving
),

steps as (
    select
        joint,
        class,
        day,
        at_risk,
        revised,
        -- Where everybody at risk is revised the logarithm has no value: that day ends the curve at 1.
        max((revised = at_risk)::integer) over upto = 1 as all_revised,
        sum(ln((at_risk - revised) / at_risk)) filter (where revised < at_risk) over upto as log_free,
        sum(revised / (at_risk * (at_risk - revised))) filter (where revised < at_risk) over upto as greenwood
    from followed
    where revised > 0
    window upto as (partition by joint, class order by day)
),

stretched as (
    select *, exp(1.959963984540054 * sqrt(greenwood) / -log_free) as stretch
    from steps
)

select
    joint::varchar as joint,
    class::varchar as class,
    day,
    day / 365.25::double as years,
    at_risk,
    revised,
    case when all_revised then 1 else 1 - exp(log_free) end as risk,
    case when not all_revised then 1 - exp(log_free / stretch) end as lower,
    case when not all_revised then 1 - exp(log_free * stretch) end as upper
from stretched
