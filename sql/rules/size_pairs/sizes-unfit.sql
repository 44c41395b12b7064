-- The maker allows the pair within some steps of size only.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    told
-- text:     Two components have sizes that do not fit each other; please check both catalogue numbers.

true
