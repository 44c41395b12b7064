-- Revisions that no rule holds, with their primary or with why there is none. Every component
-- taken out having been on the market before the first primary of the register, the joint may
-- be older than the register; that it is cannot be told.
--
-- creates:  settled_links

create or replace temp table settled_links as
with

began as (
    select joint, min(operation_date) as began_on from standing_operations where kind = 'primary' group by joint
),

taken_out as (
    select c.version_no, max(coalesce(k.introduced_date, date '9999-12-31')) as newest
    from components as c
    semi join revisions_and_primaries as r on r.version_no = c.version_no and r.primary_operation_id is null
    left join known_entries as k on k.catalogue_no = c.catalogue_no
    where c.action = 'removed'
    group by c.version_no
)

select
    r.operation_id,
    r.primary_operation_id,
    case when r.primary_operation_id is null then 'not linked' else 'same patient, joint and side' end as method,
    case
        when r.primary_operation_id is not null then null
        when r.held_primary_id is not null then 'primary held back'
        when t.newest < b.began_on then 'perhaps before the register began'
        else 'no primary known'
    end as cause,
    greatest(r.known_from, r.primary_known_from) as decided_on
from revisions_and_primaries as r
semi join standing_operations as o on o.version_no = r.version_no
left join began as b on b.joint = r.joint
left join taken_out as t on t.version_no = r.version_no
