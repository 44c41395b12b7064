-- The rules on one relation that a cut was made by.
--
-- grain:    rule, version
-- reads:    rules
-- columns:  rule       varchar   name of the rule
--           relation   varchar   what it judges
--           version    smallint  its version
--           severity   varchar   reject, hold, known already, warn or note
--           starts     date      what came earlier is not judged by it
--           shows      varchar   expression for what it found
--           text       varchar   what the hospital is told
--           predicate  varchar   condition that is asked about
--           rows_from  date      what was received from this day on is judged by it
--           rows_to    date      what was received from this day on is no longer judged by it
select rule, relation, version, severity, starts, shows, text, predicate, rows_from, rows_to
from rules
where relation = $relation
order by rules.rule, rules.version
