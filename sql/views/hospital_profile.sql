-- What each hospital does: its primaries and how they last wherever they are revised, and the revisions it does,
-- its own primaries' and others'. Nothing is adjusted and nothing withheld: no ranking can be made from it.
--
-- grain:    hospital_id, joint
-- reads:    follow_up, revision_episodes
-- columns:  hospital_id            varchar  hospital
--           joint                  varchar  knee, hip or shoulder
--           region                 varchar  region of the hospital; null where it did no primary
--           primaries              bigint   primaries done there
--           partial_share          double   of its knees, partial ones, 0 to 1; null without primaries and for other joints
--           surgeons               bigint   responsible surgeons of its primaries, those not recorded left out
--           first_date             date     first primary
--           last_date              date     last primary
--           mean_age               double   completed years at the primary
--           implant_years          double   years in follow-up of its primaries together
--           revisions              bigint   of its primaries, revised, wherever that was
--           per_100_implant_years  double   their revisions per 100 implant-years; null without follow-up
--           revisions_done         bigint   revisions done there, of registered joints
--           of_other_hospitals     bigint   of those, joints whose primary was at another hospital
with

primaries as (
    select
        hospital_id,
        joint,
        min(region::varchar) as region,
        count(*) as primaries,
        case when joint = 'knee' then count(*) filter (where class in ('partial', 'patellofemoral')) / count(*) end
            as partial_share,
        count(distinct surgeon_id) filter (where surgeon_id::varchar <> 'not recorded') as surgeons,
        min(implanted_date) as first_date,
        max(implanted_date) as last_date,
        avg(age) as mean_age,
        sum(days) / 365.25::double as implant_years,
        count(*) filter (where ended = 'revised') as revisions
    from follow_up
    group by hospital_id, joint
),

done as (
    select
        revision_episodes.hospital_id,
        follow_up.joint,
        count(*) as revisions_done,
        count(*) filter (where follow_up.hospital_id <> revision_episodes.hospital_id) as of_other_hospitals
    from revision_episodes
    inner join follow_up on follow_up.joint_no = revision_episodes.joint_no
    group by revision_episodes.hospital_id, follow_up.joint
)

select
    coalesce(primaries.hospital_id, done.hospital_id)::varchar as hospital_id,
    coalesce(primaries.joint, done.joint)::varchar as joint,
    primaries.region,
    coalesce(primaries.primaries, 0) as primaries,
    primaries.partial_share,
    coalesce(primaries.surgeons, 0) as surgeons,
    primaries.first_date,
    primaries.last_date,
    primaries.mean_age,
    coalesce(primaries.implant_years, 0) as implant_years,
    coalesce(primaries.revisions, 0) as revisions,
    100 * primaries.revisions / nullif(primaries.implant_years, 0) as per_100_implant_years,
    coalesce(done.revisions_done, 0) as revisions_done,
    coalesce(done.of_other_hospitals, 0) as of_other_hospitals
from primaries
full join done on done.hospital_id = primaries.hospital_id and done.joint = primaries.joint
