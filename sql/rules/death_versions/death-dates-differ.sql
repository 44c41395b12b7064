-- Nobody dies twice. A date that a later file says once more is believed.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    death_date || ' and ' || other_date
-- text:     Two files give different dates of death for this patient; please send the right one once more.

dates > 1 and times_said < 2
