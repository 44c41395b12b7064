-- Revisions that count, by whether they have a primary and why not.
--
-- grain:    group, cause
-- reads:    links, operations, hospitals
-- needs:    grouping, predicate
-- columns:  cause varchar
--           revisions bigint
--           by_decision bigint
select
    {grouping}
    cause,
    count(*) as revisions,
    count(*) filter (where decided_by <> 'rule') as by_decision
from (
    select
        operations.joint,
        operations.kind,
        operations.hospital_id,
        operations.operation_date as implanted_date,
        hospitals.region,
        links.decided_by,
        case when links.primary_operation_id is null then coalesce(links.cause, 'unknown') end as cause
    from links
    join operations on operations.operation_id = links.operation_id
    left join hospitals on hospitals.hospital_id = operations.hospital_id
) as revisions
where {predicate}
group by all
