-- Operations counted in the cut beside those of the administrative counts, in months that can be
-- compared; and what cannot: operations without a count, and counts that a hospital has yet to answer.
--
-- grain:    group
-- reads:    operations, admin_counts, hospitals, submissions
-- needs:    grouping, predicate
-- columns:  registered hugeint
--           counted hugeint
--           without_count hugeint
--           awaited hugeint

with

registered as (
    select
        hospital_id::varchar as hospital_id, joint, kind, date_trunc('month', operation_date)::date as month,
        count(*) as operations
    from operations
    group by all
),

counted as (
    select hospital_id::varchar as hospital_id, joint, kind, month, operations from admin_counts
),

reported as (
    select sender as hospital_id, max(complete_through) as complete_through
    from submissions
    where kind = 'operations'
    group by sender
),

cells as (
    select
        c.hospital_id, c.joint, c.kind, c.month as implanted_date, h.region,
        coalesce(c.registered, 0) as registered, c.counted,
        last_day(c.month) <= coalesce(r.complete_through, date '0001-01-01') as is_reported
    from (
        select
            coalesce(o.hospital_id, a.hospital_id) as hospital_id,
            coalesce(o.joint, a.joint) as joint,
            coalesce(o.kind, a.kind) as kind,
            coalesce(o.month, a.month) as month,
            o.operations as registered,
            a.operations as counted
        from registered as o
        full join counted as a
            on a.hospital_id = o.hospital_id and a.joint = o.joint and a.kind = o.kind and a.month = o.month
    ) as c
    left join hospitals as h on h.hospital_id = c.hospital_id
    left join reported as r on r.hospital_id = c.hospital_id
    where last_day(c.month) <= $through
)

select
    {grouping}
    coalesce(sum(registered) filter (where counted is not null and is_reported), 0) as registered,
    sum(counted) filter (where is_reported) as counted,
    coalesce(sum(registered) filter (where counted is null), 0) as without_count,
    coalesce(sum(counted) filter (where not is_reported), 0) as awaited
from cells
where {predicate} and kind is not distinct from coalesce($kind, kind)
group by all
