-- Counted under "not recorded".
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- text:     The ASA class is missing.

asa_text in ('', 'not-recorded', 'not recorded')
