-- A revision finds its primary by the side; an operation on both sides is two rows.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    side_text
-- text:     The side is missing or not left or right; an operation on both sides is sent as two rows.

side is null
