-- A joint has one primary. The second is a missed revision, a wrong side or another patient.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    first_operation_id
-- text:     This joint already has a primary; if this was a revision, send it as one.

nth > 1 and not other_compartment
