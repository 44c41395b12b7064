-- The joints of a cohort with one construct, split by the size of each of its implants, the hospital or the surgeon.
--
-- grain:    unit
-- reads:    component_life, follow_up
-- needs:    unit, predicate
-- columns:  unit       varchar  implant and size, hospital or surgeon
--           joints     bigint   joints
--           days       bigint   days in follow-up of them together
--           revisions  bigint   joints revised
with

chosen as (
    select joint_no, hospital_id, surgeon_id, days, ended
    from follow_up
    where construct = try_cast($implant as construct_codes) and {predicate}
),

used as (
    select joint_no, implant::varchar || ' ' || size as size
    from component_life
    where in_day = 0 and list_contains(string_split($implant, '/'), implant::varchar)
),

split as (
    select distinct chosen.joint_no, {unit} as unit, chosen.days, chosen.ended
    from chosen
    left join used on used.joint_no = chosen.joint_no
)

select
    unit::varchar as unit,
    count(*) as joints,
    sum(days)::bigint as days,
    count(*) filter (where ended = 'revised') as revisions
from split
group by unit
order by joints desc, unit
