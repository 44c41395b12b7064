-- Every line on named cohorts, oldest first.
--
-- grain:    number
-- reads:    named_cohorts
select number, name, words, removed, note, saved_by, account, saved_at
from named_cohorts
order by number
