-- What is missing or in doubt in the records of a cohort's joints.
--
-- grain:    one row
-- reads:    follow_up, held_revisions, links, link_candidates
-- needs:    predicate
-- columns:  joints            bigint  joints
--           revisions         bigint  joints revised
--           held              bigint  joints with a revision that is held back
--           candidates        bigint  unrevised joints that a revision without a primary may belong to
--           no_surgeon        bigint  joints whose surgeon is not recorded
--           no_sex            bigint  joints whose patient's sex is not recorded
--           no_asa            bigint  joints without an ASA class
--           no_bmi            bigint  joints without a body mass index
--           no_diagnosis      bigint  joints without a diagnosis
--           no_reason         bigint  revised joints whose leading reason is not recorded
--           no_action         bigint  revised joints of which it is not recorded what was done
with

chosen as (
    select *
    from follow_up
    where {predicate}
),

waiting as (
    select distinct link_candidates.primary_operation_id
    from link_candidates
    inner join links on links.operation_id = link_candidates.operation_id
    where links.primary_operation_id is null
)

select
    count(*) as joints,
    count(*) filter (where ended = 'revised') as revisions,
    count(*) filter (where joint_no in (select held_revisions.joint_no from held_revisions)) as held,
    count(*) filter (
        where ended <> 'revised' and operation_id in (select waiting.primary_operation_id from waiting)
    ) as candidates,
    count(*) filter (where surgeon_id is not distinct from try_cast('not recorded' as surgeon_codes)) as no_surgeon,
    count(*) filter (where sex = 'not recorded') as no_sex,
    count(*) filter (where asa = 'not recorded') as no_asa,
    count(*) filter (where bmi is null) as no_bmi,
    count(*) filter (where diagnosis = 'not recorded') as no_diagnosis,
    count(*) filter (where ended = 'revised' and reason is null) as no_reason,
    count(*) filter (where ended = 'revised' and action = 'not recorded') as no_action
from chosen
