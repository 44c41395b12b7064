-- Rules that what was known on a day is settled by.
--
-- reads:    rules

select rule, relation, version, severity, starts, shows, text, predicate, rows_from, rows_to
from rules
where in_force_from <= $as_of and $as_of < coalesce(in_force_to, date '9999-12-31')
order by relation, rule, version
