-- Rows kept in the store that are not accepted, and what became of them instead. What belongs to
-- an operation goes with it; a held row that was replaced later was held all the same.
--
-- creates:  row_ends

create or replace temp table row_ends as
with

held as (
    select distinct table_name, place from findings where severity = 'hold'
),

operation_rows as (
    select version_no, 'known already' as row_end from versions_operations where standing = 'repeat'
    union all
    select v.version_no, 'held' as row_end
    from versions_operations as v
    join held as h on h.place = v.version_no and h.table_name = 'operations'
    where v.standing = 'replaced'
    union all
    select version_no, operation_end as row_end from operation_ends
),

parts as (
    select 'components' as table_name, version_no, row_no from components
    union all
    select 'reasons' as table_name, version_no, row_no from revision_reasons
),

ends as (
    select 'operations' as table_name, version_no as place, row_end, 1 as priority from operation_rows
    union all
    select p.table_name, (p.version_no // 1000000000) * 1000000000 + p.row_no as place, o.row_end, 1 as priority
    from parts as p
    join operation_rows as o on o.version_no = p.version_no
    union all
    select table_name, place, 'known already' as row_end, 1 as priority from feed_versions where standing = 'repeat'
    union all
    select table_name, place, 'held' as row_end, 2 as priority from held
)

select table_name, place, arg_min(row_end, priority) as row_end
from ends
anti join (select table_name as rejected_table, place as rejected_place from findings where severity = 'reject') as r
    on r.rejected_table = ends.table_name and r.rejected_place = ends.place
group by table_name, place
