-- Operations that are not accepted, and what became of them instead: held before known already.
--
-- creates:  operation_ends

create or replace temp table operation_ends as
select
    o.version_no,
    case when bool_or(f.severity = 'hold') then 'held' else 'known already' end as operation_end
from known_operations as o
join findings as f on f.place = o.version_no and f.table_name = 'operations'
where f.severity in ('hold', 'known already')
group by o.version_no
