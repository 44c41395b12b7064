-- Results would go to nobody.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    surgeon_id
-- text:     The responsible surgeon is not known to the register.

surgeon_id <> 'not recorded' and not surgeon_is_known
