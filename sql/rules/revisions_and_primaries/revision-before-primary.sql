-- One of the two dates is wrong, or the primary is a revision.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    later_primary_id
-- text:     The primary of this joint lies after this revision.

primary_operation_id is null and later_primary_id is not null
