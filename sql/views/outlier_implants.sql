-- Each implant in each role against all other joints of its class: a first screening, by rates alone. A high
-- ratio or a small p is a reason to look and shows no cause; many implants are tested at once, and a rate
-- averages over follow-up. The p is exact: given the revisions of both, the implant's are binomial when the
-- rates are equal (Clopper & Pearson 1934); its terms are summed from logarithms of the gamma function.
-- Nothing is withheld: mind the number of joints.
--
-- grain:    joint, class, role, implant
-- reads:    component_life, follow_up
-- columns:  joint                        varchar  knee, hip or shoulder
--           class                        varchar  class of the primary
--           role                         varchar  what the implant is in the joint
--           implant                      varchar  implant code
--           joints                       bigint   joints whose primary used it
--           implant_years                double   years in follow-up of them together
--           revisions                    bigint   of them, revised
--           per_100_implant_years        double   revisions per 100 implant-years; null without follow-up
--           other_joints                 bigint   all other joints of the class, those without the role included
--           other_implant_years          double   years in follow-up of them together
--           other_revisions              bigint   of them, revised
--           other_per_100_implant_years  double   their revisions per 100 implant-years
--           expected                     double   revisions of the implant at the rate of all others
--           rate_ratio                   double   its rate over theirs; null where they have no revision
--           p                            double   one-sided: so many revisions or more, were the rates equal
with

classes as (
    select
        joint,
        class,
        count(*) as joints,
        sum(days)::bigint as days,
        count(*) filter (where ended = 'revised') as revisions
    from follow_up
    group by joint, class
),

used as (
    select distinct joint_no, role, implant
    from component_life
    where in_day = 0 and implant::varchar <> 'not recorded'
),

implants as (
    select
        follow_up.joint,
        follow_up.class,
        used.role,
        used.implant,
        count(*) as joints,
        sum(follow_up.days)::bigint as days,
        count(*) filter (where follow_up.ended = 'revised') as revisions
    from used
    inner join follow_up on follow_up.joint_no = used.joint_no
    group by follow_up.joint, follow_up.class, used.role, used.implant
),

compared as (
    select
        implants.joint::varchar as joint,
        implants.class::varchar as class,
        implants.role::varchar as role,
        implants.implant::varchar as implant,
        implants.joints,
        implants.days / 365.25::double as implant_years,
        implants.revisions,
        classes.joints - implants.joints as other_joints,
        (classes.days - implants.days) / 365.25::double as other_implant_years,
        classes.revisions - implants.revisions as other_revisions,
        classes.revisions as class_revisions,
        implants.days / nullif(classes.days, 0) as part,
        implants.days > 0 and implants.days < classes.days as comparable
    from implants
    inner join classes on classes.joint = implants.joint and classes.class = implants.class
),

-- The tail on the implant's own side of the mean: its terms fall with every step away from the middle,
-- and a hundred of them beyond twelve standard deviations are far below the last digit.
tails as (
    select
        joint,
        class,
        role,
        implant,
        class_revisions,
        part,
        revisions > class_revisions * part as upper_tail,
        12 * sqrt(class_revisions * part * (1 - part)) + 100 as reach,
        case
            when revisions > class_revisions * part
                then range(revisions, least(class_revisions, revisions + reach)::bigint + 1)
            else range(greatest(0, revisions - reach)::bigint, revisions)
        end as terms
    from compared
    where comparable
),

terms as (
    select joint, class, role, implant, class_revisions as n, part, upper_tail, unnest(terms) as k
    from tails
),

sums as (
    select
        joint,
        class,
        role,
        implant,
        upper_tail,
        fsum(exp(lgamma(n + 1) - lgamma(k + 1) - lgamma(n - k + 1) + k * ln(part) + (n - k) * ln(1 - part))) as tail
    from terms
    group by joint, class, role, implant, upper_tail
)

select
    compared.joint,
    compared.class,
    compared.role,
    compared.implant,
    compared.joints,
    compared.implant_years,
    compared.revisions,
    100 * compared.revisions / nullif(compared.implant_years, 0) as per_100_implant_years,
    compared.other_joints,
    compared.other_implant_years,
    compared.other_revisions,
    100 * compared.other_revisions / nullif(compared.other_implant_years, 0) as other_per_100_implant_years,
    compared.implant_years * compared.other_revisions / nullif(compared.other_implant_years, 0) as expected,
    (compared.revisions / nullif(compared.implant_years, 0))
    / nullif(compared.other_revisions / nullif(compared.other_implant_years, 0), 0) as rate_ratio,
    case
        when not compared.comparable then null
        when sums.tail is null then 1
        when sums.upper_tail then least(1, sums.tail)
        else greatest(0, 1 - sums.tail)
    end as p
from compared
left join sums
    on sums.joint = compared.joint
    and sums.class = compared.class
    and sums.role = compared.role
    and sums.implant = compared.implant
