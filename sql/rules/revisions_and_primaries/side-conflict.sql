-- Never mended by the program: only the hospital knows which of the two sides is wrong.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    other_side_id
-- text:     No primary is known on this side, but one is on the other side.

primary_operation_id is null and later_primary_id is null and held_primary_id is null and other_side_id is not null
