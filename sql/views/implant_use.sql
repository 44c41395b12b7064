-- How much each implant was used at primaries, year by year.
--
-- grain:    joint, class, role, implant, year
-- reads:    component_life, follow_up
-- columns:  joint      varchar   knee, hip or shoulder
--           class      varchar   class of the primary
--           role       varchar   what the implant is in the joint
--           implant    varchar   implant code; not recorded where the catalogue does not know it
--           year       smallint  calendar year of the primary
--           joints     bigint    joints whose primary used it
--           hospitals  bigint    hospitals that used it, those not recorded left out
--           surgeons   bigint    surgeons who used it, those not recorded left out
with

used as (
    select distinct joint_no, role, implant
    from component_life
    where in_day = 0
)

select
    follow_up.joint::varchar as joint,
    follow_up.class::varchar as class,
    used.role::varchar as role,
    used.implant::varchar as implant,
    follow_up.implanted_year as year,
    count(*) as joints,
    count(distinct follow_up.hospital_id) filter (where follow_up.hospital_id::varchar <> 'not recorded') as hospitals,
    count(distinct follow_up.surgeon_id) filter (where follow_up.surgeon_id::varchar <> 'not recorded') as surgeons
from used
inner join follow_up on follow_up.joint_no = used.joint_no
group by follow_up.joint, follow_up.class, used.role, used.implant, follow_up.implanted_year
