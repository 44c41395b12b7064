-- Tables whose name a rule has among its words, with their columns and types; of two of one name the temporary one.
--
-- grain:    table_name
-- columns:  table_name  varchar
--           columns     varchar[][]  name and type of each

select table_name, list([column_name, data_type] order by column_index) as columns
from (
    select *
    from duckdb_columns()
    where not internal and list_contains($words::varchar[], table_name)
    qualify rank() over (partition by table_name order by database_name <> 'temp', database_name) = 1
)
group by table_name
