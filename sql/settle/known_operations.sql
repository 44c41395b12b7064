-- The operations as known at a date: standing versions, held ones included.
--
-- creates:  known_operations

create or replace temp table known_operations as
select o.* exclude (known_to, repeats)
from operations as o
left join versions_operations as v on v.version_no = o.version_no
where o.known_from <= $as_of and coalesce(v.standing, 'current') = 'current'
