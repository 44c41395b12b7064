-- Counted as a single-stage revision.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- text:     The stage of the revision is missing; it was counted as single.

kind = 'revision' and stage_text = ''
