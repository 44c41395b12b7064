-- Length of stay is told by these days.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    admission_date_text
-- text:     The admission lies after the operation; please check both dates.

admission_date > operation_date
