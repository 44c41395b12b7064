-- The joints of a cohort with one implant, split by the size used, the hospital or the surgeon.
--
-- grain:    unit
-- reads:    component_life, follow_up
-- needs:    unit, predicate
-- columns:  unit       varchar  size, hospital or surgeon
--           joints     bigint   joints
--           days       bigint   days in follow-up of them together
--           revisions  bigint   joints revised
with

chosen as (
    select joint_no, hospital_id, surgeon_id, days, ended
    from follow_up
    where {predicate}
),

used as (
    select distinct joint_no, size
    from component_life
    where in_day = 0 and implant = try_cast($implant as implant_codes)
),

split as (
    select distinct chosen.joint_no, {unit} as unit, chosen.days, chosen.ended
    from chosen
    inner join used on used.joint_no = chosen.joint_no
)

select
    unit::varchar as unit,
    count(*) as joints,
    sum(days)::bigint as days,
    count(*) filter (where ended = 'revised') as revisions
from split
group by unit
order by joints desc, unit
