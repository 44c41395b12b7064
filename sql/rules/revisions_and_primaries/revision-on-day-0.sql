-- Counted as a revision on day 0.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    primary_operation_id
-- text:     The revision is on the day of its primary: a return to theatre, or a slip?

operation_date = primary_date
