-- Operations by the days from operation to first receipt.
--
-- grain:    group, delay
-- reads:    operations, hospitals
-- needs:    grouping, predicate
-- columns:  delay bigint
--           is_settled boolean
--           operations bigint

select
    {grouping}
    first_received - implanted_date as delay,
    implanted_date <= $settled_by as is_settled,
    count(*) as operations
from (
    select o.joint, o.kind, o.hospital_id, o.operation_date as implanted_date, o.first_received, h.region
    from operations as o
    left join hospitals as h on h.hospital_id = o.hospital_id
) as records
where {predicate} and kind is not distinct from coalesce($kind, kind)
group by all
