-- Either the death or the operation is of somebody else, or its date is wrong; both are held.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    death_date
-- text:     The operation lies after the date of death of the patient; both records are held.

operation_date > death_date
