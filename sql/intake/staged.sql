-- The cells of many files as text, under the number of their file. The dialect is given and
-- never guessed: a guess turns ragged rows into one column without an error. Every file has
-- been checked before, so a fault here is the program's. Rows keep the order they are read in.
--
-- creates:  staged_{table}
-- needs:    table, columns, column_names

create or replace temp table staged_{table} as
select row_number() over () - 1 as bundle_row, * from read_csv(
    $path,
    auto_detect = false, header = false, delim = ',', quote = '"', escape = '"', encoding = 'utf-8', new_line = '\n',
    columns = {columns}, force_not_null = {column_names}
)
