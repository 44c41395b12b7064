-- Revisions of joints, and from when on each was known as it stands and as its joint's. What people decided on a link
-- counts from the day of their decision on.
--
-- grain:    revision
-- reads:    follow_up, operations, links, corrections
-- columns:  joint_no   integer  the joint
--           day        integer  day of the revision, since 1970
--           known      integer  day from which it was known, since 1970
--           corrected  boolean  it counts from a correction on
--           decided    boolean  its link is a decision
with corrected as (
    select record_id, max(corrected_on) as corrected_on
    from corrections
    where
        table_name = 'operations'
        and field in ('patient_id', 'joint', 'side', 'operation_date', 'kind')
    group by record_id
)

select
    follow_up.joint_no,
    (operations.operation_date - date '1970-01-01')::integer as day,
    (
        greatest(
            operations.first_received,
            corrected.corrected_on,
            case when links.decided_by <> 'rule' then links.decided_on end
        ) - date '1970-01-01'
    )::integer as known,
    coalesce(corrected.corrected_on > operations.first_received, false) as corrected,
    links.decided_by <> 'rule' as decided
from links
inner join operations on operations.operation_id = links.operation_id
inner join follow_up on follow_up.operation_id = links.primary_operation_id
left join corrected on corrected.record_id = links.operation_id
