-- Each implant in each role beside all other joints of its class that have that role, in windows of time since
-- implantation: the first step of `screen implants`, by rates alone, at the thresholds that the program ships (the
-- first two steps below; a store's own screening.toml is not read). A high ratio or a small p is a reason to look
-- and shows no cause. A joint with two implants in one role, such as two stems, counts with each, and once among
-- all others. Joints with a withdrawn implant in the role are in nobody's comparison group; which implants a
-- committee has confirmed as poor a cut does not know, so that these stay in. The p is exact: given the revisions of
-- both, the implant's are binomial when its rate is the stated multiple of theirs (Clopper & Pearson 1934); its
-- terms are summed from logarithms of the gamma function. q is that of Benjamini & Hochberg (1995) over all rows of
-- a joint that are tested, as in a screen of that joint alone. What counts alone cannot give is the hazard ratio
-- adjusted for age and sex, whose p is what the program's own q and labels go by: ask `regdash screen implants`.
-- Nothing is withheld: mind the number of joints.
--
-- grain:    joint, class, role, implant, time_window
-- reads:    catalogue, component_life, cut_facts, follow_up
-- columns:  joint                        varchar  knee, hip or shoulder
--           class                        varchar  class of the primary
--           role                         varchar  what the implant is in the joint
--           implant                      varchar  implant code
--           time_window                  varchar  years since implantation, as 1..5; or all
--           joints                       bigint   joints whose primary used it, followed in the window
--           implant_years                double   years in follow-up of them in the window
--           revisions                    bigint   of them, revised in the window
--           per_100_implant_years        double   revisions per 100 implant-years; null without follow-up
--           other_joints                 bigint   all others of class and role, without a withdrawn one in it
--           other_implant_years          double   years in follow-up of them in the window
--           other_revisions              bigint   of them, revised in the window
--           other_per_100_implant_years  double   their revisions per 100 implant-years
--           expected                     double   revisions of the implant at the rate of all others
--           rate_ratio                   double   its rate over theirs; null where they have no revision
--           rate_p                       double   one-sided: so many revisions or more, were its rate 1.25 times theirs
--           tested                       boolean  has 10 joints and 1 expected revision, or more of both
--           rate_q                       double   of the joint's rows that are tested, from their p; null elsewhere
--           withdrawn                    boolean  by the cut's end: it is in nobody's comparison group
with

settings (stated_ratio, minimum_joints, minimum_expected) as (
    values (1.25::double, 10, 1.0::double)
),

windows (time_window, after_day, last_day) as (
    values ('all', -1, null), ('0..1', -1, 365), ('1..5', 365, 1826), ('5..', 1826, null)
),

withdrawn as (
    select implant
    from catalogue
    group by implant
    having count(*) = count(*) filter (
        where withdrawn_date <= (select value::date from cut_facts where fact = 'through_date')
    )
),

used as (
    select distinct
        follow_up.joint,
        follow_up.class,
        component_life.role,
        component_life.implant,
        component_life.joint_no,
        follow_up.days,
        follow_up.ended = 'revised' as revised,
        component_life.implant::varchar in (select implant from withdrawn) as withdrawn
    from component_life
    inner join follow_up on follow_up.joint_no = component_life.joint_no
    where component_life.in_day = 0
        and component_life.implant::varchar <> 'not recorded'
        and component_life.role::varchar <> 'cement'
),

-- Joints that may be compared with: those without a withdrawn implant in the role.
told as (
    select used.*, not bool_or(withdrawn) over (partition by joint_no, role) as inside
    from used
),

-- Each of them once, however many implants it has in the role.
comparable as (
    select distinct joint, class, role, joint_no, days, revised
    from told
    where inside
),

pools as (
    select
        comparable.joint,
        comparable.class,
        comparable.role,
        windows.time_window,
        count(*) as joints,
        sum(least(days, coalesce(last_day, days)) - greatest(after_day, 0))::bigint as days,
        count(*) filter (where revised and days <= coalesce(last_day, days)) as revisions
    from comparable
    inner join windows on comparable.days > windows.after_day
    group by comparable.joint, comparable.class, comparable.role, windows.time_window
),

implants as (
    select
        told.joint,
        told.class,
        told.role,
        told.implant,
        windows.time_window,
        told.withdrawn,
        count(*) as joints,
        sum(least(days, coalesce(last_day, days)) - greatest(after_day, 0))::bigint as days,
        count(*) filter (where revised and days <= coalesce(last_day, days)) as revisions,
        count(*) filter (where inside) as inside_joints,
        coalesce(
            sum(least(days, coalesce(last_day, days)) - greatest(after_day, 0)) filter (where inside), 0
        )::bigint as inside_days,
        count(*) filter (where inside and revised and days <= coalesce(last_day, days)) as inside_revisions
    from told
    inner join windows on told.days > windows.after_day
    group by told.joint, told.class, told.role, told.implant, windows.time_window, told.withdrawn
),

beside as (
    select
        implants.joint::varchar as joint,
        implants.class::varchar as class,
        implants.role::varchar as role,
        implants.implant::varchar as implant,
        implants.time_window,
        implants.withdrawn,
        implants.joints,
        implants.days,
        implants.revisions,
        coalesce(pools.joints, 0) - implants.inside_joints as other_joints,
        coalesce(pools.days, 0) - implants.inside_days as other_days,
        coalesce(pools.revisions, 0) - implants.inside_revisions as other_revisions
    from implants
    left join pools
        on pools.joint = implants.joint
        and pools.class = implants.class
        and pools.role = implants.role
        and pools.time_window = implants.time_window
),

compared as (
    select
        beside.*,
        days * other_revisions / nullif(other_days, 0) as expected,
        revisions + other_revisions as n,
        stated_ratio * days / nullif(stated_ratio * days + other_days, 0) as part,
        days > 0 and other_days > 0 as comparable
    from beside
    cross join settings
),

-- The tail on the implant's own side of the mean: its terms fall with every step away from the middle,
-- and a hundred of them beyond twelve standard deviations are far below the last digit.
tails as (
    select
        joint,
        class,
        role,
        implant,
        time_window,
        n,
        part,
        revisions > n * part as upper_tail,
        12 * sqrt(n * part * (1 - part)) + 100 as reach,
        case
            when revisions > n * part
                then range(revisions, least(n, revisions + reach)::bigint + 1)
            else range(greatest(0, revisions - reach)::bigint, revisions)
        end as terms
    from compared
    where comparable
),

terms as (
    select joint, class, role, implant, time_window, n, part, upper_tail, unnest(terms) as k
    from tails
),

sums as (
    select
        joint,
        class,
        role,
        implant,
        time_window,
        upper_tail,
        fsum(exp(lgamma(n + 1) - lgamma(k + 1) - lgamma(n - k + 1) + k * ln(part) + (n - k) * ln(1 - part))) as tail
    from terms
    group by joint, class, role, implant, time_window, upper_tail
),

judged as (
    select
        compared.*,
        case
            when not compared.comparable then null
            when sums.tail is null then 1
            when sums.upper_tail then least(1, sums.tail)
            else greatest(0, 1 - sums.tail)
        end as rate_p,
        compared.joints >= settings.minimum_joints
        and coalesce(compared.expected >= settings.minimum_expected, false) as tested
    from compared
    cross join settings
    left join sums
        on sums.joint = compared.joint
        and sums.class = compared.class
        and sums.role = compared.role
        and sums.implant = compared.implant
        and sums.time_window = compared.time_window
),

ranked as (
    select
        *,
        count(*) over (partition by joint, tested) as tests,
        row_number() over (partition by joint, tested order by rate_p, class, role, implant, time_window) as place
    from judged
)

select
    joint,
    class,
    role,
    implant,
    time_window,
    joints,
    days / 365.25::double as implant_years,
    revisions,
    100 * revisions / nullif(days / 365.25::double, 0) as per_100_implant_years,
    other_joints,
    other_days / 365.25::double as other_implant_years,
    other_revisions,
    100 * other_revisions / nullif(other_days / 365.25::double, 0) as other_per_100_implant_years,
    expected,
    revisions / nullif(expected, 0) as rate_ratio,
    rate_p,
    tested,
    case
        when tested then least(1, min(rate_p * tests / place) over (partition by joint, tested order by place desc))
    end as rate_q,
    withdrawn
from ranked
