-- Rules that judge what is received next.
--
-- reads:    rules

select rule, relation, version, severity, starts, shows, text, predicate, rows_from, rows_to
from rules
where rows_to is null and in_force_to is null
order by relation, rule
