-- Rows of a table, and a hash over them that depends neither on their order nor on the file: the sum
-- of a hash of each. Cells are told apart by a character that no cell has, and null by another.
--
-- needs:    table, cells

select count(*), sum(md5_number_lower(concat_ws(chr(31), {cells}))::hugeint)::varchar from {table}
