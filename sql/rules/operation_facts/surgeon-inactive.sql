-- A surgeon who was not in practice cannot have operated.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    surgeon_id
-- text:     The responsible surgeon was not in practice on the date of the operation.

not coalesce(operation_date between coalesce(surgeon_from, operation_date) and coalesce(surgeon_to, operation_date), true)
