-- A statement as the database parses it, written as JSON, so that the program can see what it calls; nothing runs.
--
-- grain:    the statement
-- columns:  parsed json
select json_serialize_sql($statement) as parsed
