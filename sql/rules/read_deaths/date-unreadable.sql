-- Follow-up ends on this day.
--
-- version:  1
-- severity: reject
-- starts:   1900-01-01
-- shows:    death_date_text
-- text:     The date of death is missing, impossible or not written as 2024-03-31.

death_date is null
