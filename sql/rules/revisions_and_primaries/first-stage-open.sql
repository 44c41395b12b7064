-- A joint without an implant for so long was mostly given one that was not reported.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- text:     The first of two stages has no second after {stage_months} months; please send the second, or the
--           removal as final.

stage = 'first of two' and later_stages = 0
and operation_date + interval {stage_months} month < least(today, coalesce(death_date, today))
