-- An operation of a hospital that is not in the units feed cannot be placed.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    hospital_id
-- text:     The hospital is not known to the register.

not hospital_is_known
