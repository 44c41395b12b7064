-- Counted under "not recorded", and in no surgeon's volume.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- text:     The responsible surgeon is missing.

surgeon_id_text = ''
