-- Counted as taken out; what had been put in is looked for by its role.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    catalogue_no
-- text:     A component that was taken out is not among those recorded as put in; please check its catalogue number.

put_in = 0
