-- Counted; the date of a death this near is confirmed, since it decides what the operation is compared on.
--
-- version:  1
-- severity: note
-- starts:   1900-01-01
-- shows:    death_date
-- text:     The patient died within {death_soon_days} days of the operation; please confirm both dates.

true
