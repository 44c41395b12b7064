-- The records of a feed as known at a date: standing versions that no rule on single rows holds.
--
-- creates:  known_{table}
-- needs:    table, file

create or replace temp table known_{table} as
select t.* exclude (known_to, repeats)
from {table} as t
left join versions_{table} as v on v.version_no = t.version_no
anti join findings_of_rows as f on f.place = t.version_no and f.table_name = '{file}' and f.severity = 'hold'
where t.known_from <= $as_of and coalesce(v.standing, 'current') = 'current'
