-- Operations find their units by the code.
--
-- version:  1
-- severity: reject
-- starts:   1900-01-01
-- text:     The code of the surgeon is missing.

surgeon_id_text = ''
