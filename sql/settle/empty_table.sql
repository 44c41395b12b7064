-- An empty table of the columns of another.
--
-- creates:  {table}
-- needs:    table, columns

create table {table} ({columns})
