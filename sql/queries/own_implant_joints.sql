-- The joints of a cohort by which implants of one maker were put into them together, by hospital and surgeon, and where
-- they were revised by reason and day; joints with none of them are counted too, without hospital and surgeon.
--
-- grain:    class, implants, hospital, surgeon, reason, day
-- reads:    component_life, follow_up
-- needs:    predicate
-- columns:  class     varchar    class of the primary
--           implants  varchar[]  role and implant code of each, as femoral:KF-001
--           hospital  varchar    hospital of the primary; null where there are no implants
--           surgeon   varchar    surgeon of the primary; null where there are no implants
--           reason    varchar    group of the leading reason of the first revision; null unless revised
--           day       integer    days from the primary to the first revision; null unless revised
--           joints    bigint     joints that are alike in all of these
with

chosen as (
    select joint_no, class, hospital_id, surgeon_id, days, ended, reason_group
    from follow_up
    where {predicate}
),

own as (
    select joint_no, list_sort(list(distinct role::varchar || ':' || implant::varchar)) as implants
    from component_life
    where
        in_day = 0
        and maker = try_cast($maker as maker_codes)
        and implant is distinct from try_cast('not recorded' as implant_codes)
    group by joint_no
)

select
    chosen.class::varchar as class,
    coalesce(own.implants, []::varchar[]) as implants,
    case when own.joint_no is not null then chosen.hospital_id::varchar end as hospital,
    case when own.joint_no is not null then chosen.surgeon_id::varchar end as surgeon,
    case when chosen.ended = 'revised' then chosen.reason_group::varchar end as reason,
    case when chosen.ended = 'revised' then chosen.days end as day,
    count(*) as joints
from chosen
left join own on own.joint_no = chosen.joint_no
group by all
order by all
