-- Versions of a record are put in order by the sender's sequence, so each hospital sends its
-- own.
--
-- version:  1
-- severity: reject
-- starts:   1900-01-01
-- shows:    hospital_id_text
-- text:     The hospital of the row is not the hospital that sent the file.

hospital_id_text <> sender
