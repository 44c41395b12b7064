-- Rules that judge some rows only, by when these were received.
--
-- reads:    rules

select distinct relation, rule
from rules
where in_force_to is null and not starts_with(relation, 'read_') and (rows_from > date '1900-01-01' or rows_to is not null)
