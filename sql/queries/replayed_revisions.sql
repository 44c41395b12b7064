-- Revisions of joints, and from when on each was known as it stands and as its joint's. What people decided on a link
-- counts from the day of their decision on. A link that was undone, or that another primary of the joint has since put
-- in doubt, held until that day.
--
-- grain:    revision
-- reads:    follow_up, operations, links, corrections
-- columns:  joint_no   integer  the joint
--           day        integer  day of the revision, since 1970
--           known      integer  day from which it was known, since 1970
--           until      integer  day from which it was no longer this joint's, since 1970; null while it is
--           corrected  boolean  it counts from a correction on
--           decided    boolean  its link is a decision
with

corrected as (
    select record_id, max(corrected_on) as corrected_on
    from corrections
    where
        table_name = 'operations'
        and field in ('patient_id', 'joint', 'side', 'operation_date', 'kind')
    group by record_id
),

linked as (
    select
        links.operation_id,
        follow_up.joint_no,
        case when links.decided_by <> 'rule' then links.decided_on end as decided_on,
        null::date as until
    from links
    inner join follow_up on follow_up.operation_id = links.primary_operation_id
    union all by name
    select
        links.operation_id,
        follow_up.joint_no,
        null::date as decided_on,
        links.decided_on as until
    from links
    inner join operations on operations.operation_id = links.operation_id
    inner join follow_up
        on follow_up.patient_id = operations.patient_id
        and follow_up.joint = operations.joint
        and follow_up.side = operations.side
        and follow_up.implanted_date <= operations.operation_date
    where links.cause in ('primary contested', 'link undone')
)

select
    linked.joint_no,
    (operations.operation_date - date '1970-01-01')::integer as day,
    (
        greatest(operations.first_received, corrected.corrected_on, linked.decided_on) - date '1970-01-01'
    )::integer as known,
    (linked.until - date '1970-01-01')::integer as until,
    coalesce(corrected.corrected_on > operations.first_received, false) as corrected,
    linked.decided_on is not null as decided
from linked
inner join operations on operations.operation_id = linked.operation_id
left join corrected on corrected.record_id = linked.operation_id
