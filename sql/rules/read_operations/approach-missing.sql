-- Counted under "not recorded"; how often is said by field and hospital.
--
-- version:  1
-- severity: note
-- starts:   1900-01-01
-- text:     The approach is missing.

kind = 'primary' and approach_text in ('', 'not-recorded', 'not recorded')
