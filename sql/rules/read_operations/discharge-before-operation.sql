-- Length of stay is told by these days.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    discharge_date_text
-- text:     The discharge lies before the operation; please check both dates.

discharge_date < operation_date
