-- Either the death or the operation is of somebody else, or its date is wrong; both are held.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    operation_id
-- text:     The patient was operated on after this date of death; both records are held.

operation_date > death_date
