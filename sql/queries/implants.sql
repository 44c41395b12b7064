-- Each implant that primaries of a cohort used, by class and role, beside all joints of its class.
-- A joint with two components of one implant counts once.
--
-- grain:    joint, class, role, implant
-- reads:    component_life, follow_up
-- needs:    predicate, which
-- columns:  joint            varchar  knee, hip or shoulder
--           class            varchar  class of the primary
--           role             varchar  what the implant is in the joint
--           implant          varchar  implant code
--           joints           bigint   joints with it
--           hospitals        bigint   hospitals that used it, those not recorded left out
--           surgeons         bigint   surgeons who used it, those not recorded left out
--           first_used       varchar  date of its first primary
--           last_used        varchar  date of its last primary
--           days             bigint   days in follow-up of its joints together
--           revisions        bigint   its joints revised
--           class_days       bigint   days in follow-up of all joints of the class
--           class_revisions  bigint   joints of the class revised
with

chosen as (
    select joint_no, joint, class, hospital_id, surgeon_id, implanted_date, days, ended
    from follow_up
    where {predicate}
),

classes as (
    select
        joint,
        class,
        sum(days)::bigint as class_days,
        count(*) filter (where ended = 'revised') as class_revisions
    from chosen
    group by joint, class
),

-- Joints with two components in one role are few; making all rows distinct would take three times as long.
repeated as (
    select joint_no
    from component_life
    where in_day = 0 and {which}
    group by joint_no
    having count(*) > bit_count(bit_or(1::bigint << enum_code(role)::integer))
),

used as (
    select joint_no, role, implant
    from component_life
    where in_day = 0 and {which} and joint_no not in (select repeated.joint_no from repeated)

    union all

    select distinct joint_no, role, implant
    from component_life
    where in_day = 0 and {which} and joint_no in (select repeated.joint_no from repeated)
),

implants as (
    select
        chosen.joint,
        chosen.class,
        used.role,
        used.implant,
        count(*) as joints,
        count(distinct nullif(chosen.hospital_id, try_cast('not recorded' as hospital_codes))) as hospitals,
        count(distinct nullif(chosen.surgeon_id, try_cast('not recorded' as surgeon_codes))) as surgeons,
        min(chosen.implanted_date)::varchar as first_used,
        max(chosen.implanted_date)::varchar as last_used,
        sum(chosen.days)::bigint as days,
        count(*) filter (where chosen.ended = 'revised') as revisions
    from used
    inner join chosen on chosen.joint_no = used.joint_no
    where used.implant is distinct from try_cast('not recorded' as implant_codes)
    group by chosen.joint, chosen.class, used.role, used.implant
)

select
    implants.joint::varchar as joint,
    implants.class::varchar as class,
    implants.role::varchar as role,
    implants.implant::varchar as implant,
    implants.joints,
    implants.hospitals,
    implants.surgeons,
    implants.first_used,
    implants.last_used,
    implants.days,
    implants.revisions,
    classes.class_days,
    classes.class_revisions
from implants
inner join classes on classes.joint = implants.joint and classes.class = implants.class
order by implants.joint, implants.class, implants.role, implants.implant
