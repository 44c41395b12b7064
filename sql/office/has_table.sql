-- Whether the office file has a table: one of an older release may lack it.
--
-- grain:    table
-- reads:    sqlite_master
select name from sqlite_master where type = 'table' and name = :name
