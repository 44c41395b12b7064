-- Counted under "not recorded".
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- text:     The diagnosis of the primary is missing.

kind = 'primary' and diagnosis = 'not recorded'
