-- A page of the joints of a cohort.
--
-- grain:    joint_id
-- reads:    follow_up
-- needs:    predicate, order
-- columns:  joint_id        varchar   joint
--           class           varchar   class of the primary
--           construct       varchar   the components that name it
--           sex             varchar   sex of the patient
--           age             utinyint  completed years at the primary
--           implanted_date  varchar   date of the primary
--           hospital_id     varchar   hospital of the primary
--           surgeon_id      varchar   responsible surgeon
--           days            integer   days of follow-up
--           ended           varchar   how follow-up ended
--           reason          varchar   leading reason of the first revision; its group where the detail is not recorded
--           action          varchar   what was done at the first revision
select
    joint_id,
    class::varchar as class,
    construct::varchar as construct,
    sex::varchar as sex,
    age,
    implanted_date::varchar as implanted_date,
    hospital_id::varchar as hospital_id,
    surgeon_id::varchar as surgeon_id,
    days,
    ended::varchar as ended,
    coalesce(reason::varchar, reason_group::varchar) as reason,
    action::varchar as action
from follow_up
where {predicate}
order by {order}
limit $most offset $skipped
