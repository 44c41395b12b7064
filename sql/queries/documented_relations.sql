-- What anybody may ask in SQL: each view and table of the cut with its columns, as their comments say it.
--
-- grain:    relation, place
-- reads:    duckdb_columns, duckdb_tables, duckdb_views
-- columns:  relation  varchar   name of the view or table
--           kind      varchar   view or table
--           about     varchar   what a row of it is; null where nothing is said
--           name      varchar   the column
--           type      varchar   its type
--           says      varchar   what it means; null where nothing is said
--           place     integer   of the column, from 1
with

relations as (
    select database_name, view_name as relation, 'view' as kind, comment as about from duckdb_views() where not internal
    union all
    select database_name, table_name, 'table', comment from duckdb_tables() where not internal
)

select
    r.relation, r.kind, r.about, c.column_name as name, c.data_type as type, c.comment as says, c.column_index as place
from relations as r
inner join duckdb_columns() as c on c.database_name = r.database_name and c.table_name = r.relation
where r.database_name = current_database()
order by r.kind desc, r.relation, c.column_index
