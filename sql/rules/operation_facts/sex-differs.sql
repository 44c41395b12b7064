-- The answer of the first operation that has one is used.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    sex
-- text:     The sex of the patient differs from an earlier operation.

sex <> first_sex and sex <> 'not recorded'
