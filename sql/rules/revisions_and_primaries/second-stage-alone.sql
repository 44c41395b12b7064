-- Counted as a revision of its own.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- text:     A second stage has no first stage in the twelve months before.

stage = 'second of two' and first_stages = 0
