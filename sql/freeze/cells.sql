-- Every column of every table of the cut, in a fixed order, for the content hash.
--
-- reads:    duckdb_columns

select c.table_name, c.column_name
from duckdb_columns() as c
join duckdb_tables() as t on t.table_name = c.table_name and t.database_name = c.database_name
where not c.internal
order by all
