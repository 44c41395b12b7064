-- Operations name their system and their hospital by the code.
--
-- version:  1
-- severity: reject
-- starts:   1900-01-01
-- text:     The code of the hospital or of the system is missing.

hospital_id_text = '' or technology_system_text = ''
