-- The same row twice in one file says nothing new.
--
-- version:  1
-- severity: known already
-- starts:   1900-01-01
-- text:     The row stands twice in this file; it was counted once.

repeats_row
