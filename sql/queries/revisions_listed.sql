-- A page of revisions, one a row.
--
-- grain:    operation_id
-- reads:    follow_up, revision_episodes, links, operations, revision_reasons, hospitals
-- needs:    predicate, order, revisions
-- columns:  operation_id    varchar   operation record of the revision, or of its first stage
--           joint_id        varchar   joint; null where it has no primary here
--           done_date       varchar   date of the revision
--           class           varchar   class of the primary
--           sequence        bigint    1 for the first revision of the joint
--           day             integer   days from the primary
--           reason          varchar   leading reason; its group where the detail is not recorded
--           action          varchar   what was done
--           stem            varchar   whether a stem was used
--           augment         varchar   whether an augment was used
--           graft           varchar   whether bone graft was used
--           hospital_id     varchar   hospital of the revision
--           surgeon_id      varchar   its responsible surgeon
select
    operation_id,
    joint_id,
    done_date::varchar as done_date,
    class::varchar as class,
    sequence,
    day::integer as day,
    coalesce(reason::varchar, reason_group::varchar) as reason,
    action::varchar as action,
    case when stem_used then 'yes' else 'no' end as stem,
    case when augment_used then 'yes' else 'no' end as augment,
    case when graft_used then 'yes' else 'no' end as graft,
    hospital_id::varchar as hospital_id,
    surgeon_id::varchar as surgeon_id
from ({revisions}) as revisions_done
where {predicate}
order by {order}
limit $most offset $skipped
