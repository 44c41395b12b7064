-- Of each field, the operations to which it applies and those that lack it: two columns a field.
--
-- grain:    group
-- reads:    operations, hospitals, submissions, revision_reasons
-- needs:    grouping, predicate, tallies

select {grouping} {tallies}
from (
    select
        o.*,
        o.operation_date as implanted_date,
        h.region,
        s.schema_version,
        r.operation_id is not null as has_reason
    from operations as o
    join submissions as s on s.submission_id = o.submission_id
    left join hospitals as h on h.hospital_id = o.hospital_id
    left join (select distinct operation_id from revision_reasons) as r on r.operation_id = o.operation_id
) as records
where {predicate} and kind is not distinct from coalesce($kind, kind)
group by all
