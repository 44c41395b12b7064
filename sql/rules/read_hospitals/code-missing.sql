-- Operations find their units by the code.
--
-- version:  1
-- severity: reject
-- starts:   1900-01-01
-- text:     The code of the hospital is missing.

hospital_id_text = ''
