-- One construct of a cohort's primaries, by class, beside all joints of its class.
--
-- grain:    joint, class
-- reads:    follow_up
-- needs:    predicate
-- columns:  joint            varchar  knee, hip or shoulder
--           class            varchar  class of the primary
--           role             varchar  construct
--           implant          varchar  codes of its implants
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
    select *, construct is not distinct from try_cast($implant as construct_codes) as has_it
    from follow_up
    where {predicate}
)

select
    joint::varchar as joint,
    class::varchar as class,
    'construct' as role,
    any_value(construct::varchar) filter (where has_it) as implant,
    count(*) filter (where has_it) as joints,
    count(distinct nullif(hospital_id, try_cast('not recorded' as hospital_codes))) filter (where has_it) as hospitals,
    count(distinct nullif(surgeon_id, try_cast('not recorded' as surgeon_codes))) filter (where has_it) as surgeons,
    (min(implanted_date) filter (where has_it))::varchar as first_used,
    (max(implanted_date) filter (where has_it))::varchar as last_used,
    (sum(days) filter (where has_it))::bigint as days,
    count(*) filter (where has_it and ended = 'revised') as revisions,
    sum(days)::bigint as class_days,
    count(*) filter (where ended = 'revised') as class_revisions
from chosen
group by chosen.joint, chosen.class
having count(*) filter (where has_it) > 0
order by chosen.joint, chosen.class
