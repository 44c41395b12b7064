-- Operations by the month or quarter in which they were done and that in which they were first received.
--
-- grain:    group, operated, received
-- reads:    operations, hospitals
-- needs:    grouping, predicate
-- columns:  operated date
--           received date
--           operations bigint

select
    {grouping}
    date_trunc($period, implanted_date)::date as operated,
    date_trunc($period, first_received)::date as received,
    count(*) as operations
from (
    select o.joint, o.kind, o.hospital_id, o.operation_date as implanted_date, o.first_received, h.region
    from operations as o
    left join hospitals as h on h.hospital_id = o.hospital_id
) as records
where {predicate} and kind is not distinct from coalesce($kind, kind) and implanted_date >= $first_month
group by all
