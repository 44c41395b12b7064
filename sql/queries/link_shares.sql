-- Revisions that count and those of them that have a primary, by group; all, or those of one hospital.
--
-- grain:    the fields of the grouping
-- reads:    links, operations
-- needs:    grouping, which
-- columns:  revisions    bigint  revisions that count
--           linked       bigint  those that have a primary
--           by_decision  bigint  those that a person joined to it
select
    {grouping}
    count(*) as revisions,
    count(l.primary_operation_id) as linked,
    count(l.primary_operation_id) filter (where l.decided_by <> 'rule') as by_decision
from links as l
join operations as o on o.operation_id = l.operation_id
where {which} and ($hospital::varchar is null or o.hospital_id::varchar = $hospital)
group by all
order by all
