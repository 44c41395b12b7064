-- Counted as one event of two joints.
--
-- version:  1
-- severity: note
-- starts:   1900-01-01
-- shows:    other_id
-- text:     The same joint was operated on both sides on this day.

true
