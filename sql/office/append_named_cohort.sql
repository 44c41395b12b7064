-- Add a line on a named cohort, after all others.
--
-- writes:   named_cohorts
insert into named_cohorts (number, name, words, removed, note, saved_by, account, saved_at)
select 1 + coalesce(max(number), 0), :name, :words, :removed, :note, :saved_by, :account, :saved_at
from named_cohorts
