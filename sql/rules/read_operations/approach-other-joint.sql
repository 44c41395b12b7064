-- Counted as it was sent.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    approach
-- text:     The approach is not one of this joint.

approach is not null and not {approach_of_joint}
