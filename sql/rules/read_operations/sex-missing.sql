-- Counted under "not recorded".
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- text:     The sex of the patient is missing.

sex = 'not recorded'
