-- How many reasons an operation has, how many of them are marked as leading, and which leads:
-- the one marked; else, or where several are, the first in the vocabulary's order.
--
-- creates:  reason_counts

create or replace temp table reason_counts as
with leads as (
    select
        r.version_no,
        count(*) as reasons,
        count(*) filter (where r.leads) as leading_reasons,
        min(k.rank) as first_rank,
        min(k.rank) filter (where r.leads) as marked_rank,
        bool_or(k.reason_group = 'progression of disease') as has_progression,
        bool_or(k.reason_group = 'bearing dislocation') as has_dislocation,
        any_value(o.joint) as joint
    from revision_reasons as r
    join known_operations as o on o.version_no = r.version_no
    join reason_ranks as k on k.joint = o.joint and k.reason = r.reason
    group by r.version_no
)
select l.* exclude (first_rank, marked_rank, joint), k.reason, k.reason_group
from leads as l
join reason_ranks as k on k.joint = l.joint and k.rank = coalesce(l.marked_rank, l.first_rank)
