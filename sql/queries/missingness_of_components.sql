-- Of each field of a component, the lines to which it applies and those that lack it: two columns a field.
--
-- grain:    group
-- reads:    operations, components, hospitals, submissions
-- needs:    grouping, predicate, tallies

select {grouping} {tallies}
from (
    select
        o.joint, o.kind, o.hospital_id, o.operation_date as implanted_date, h.region, s.schema_version,
        c.role, c.action, c.lot, c.serial, c.udi, c.expiry_date
    from components as c
    join operations as o on o.operation_id = c.operation_id
    join submissions as s on s.submission_id = o.submission_id
    left join hospitals as h on h.hospital_id = o.hospital_id
) as records
where {predicate} and kind is not distinct from coalesce($kind, kind)
group by all
