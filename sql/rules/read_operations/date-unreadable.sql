-- Nothing can be followed from a day that is not known.
--
-- version:  1
-- severity: reject
-- starts:   1900-01-01
-- shows:    operation_date_text
-- text:     The date of the operation is missing, impossible or not written as 2024-03-31.

operation_date is null
