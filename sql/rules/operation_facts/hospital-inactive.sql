-- A hospital that had not joined or has left sends nothing of its own.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    operation_date
-- text:     The date of the operation lies before the hospital joined the register or after it left.

not coalesce(operation_date between coalesce(hospital_from, operation_date) and coalesce(hospital_to, operation_date), true)
