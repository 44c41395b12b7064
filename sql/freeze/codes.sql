-- The codes that this cut's data hold, sorted; "not recorded" comes last.
--
-- needs:    column, table

select distinct {column} as code from {table} where {column} is not null
order by code = 'not recorded', code
