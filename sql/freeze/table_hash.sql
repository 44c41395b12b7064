-- Rows of a table, and a hash over them that depends neither on their order nor on the file.
--
-- needs:    table

select count(*), sum(md5_number_lower(t::varchar)::hugeint)::varchar from {table} as t
