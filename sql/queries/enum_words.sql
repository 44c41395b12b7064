-- The words of every ENUM type of the database, in the order of their numbers.
--
-- grain:    type_name
-- reads:    duckdb_types
-- columns:  type_name  varchar    name of the type
--           labels     varchar[]  its words
select type_name, labels from duckdb_types() where logical_type = 'ENUM' and not internal
