-- Corrections find a record by its number, so it must be there and be the sender's own.
--
-- version:  1
-- severity: reject
-- starts:   1900-01-01
-- shows:    operation_id_text
-- text:     The number of the operation is missing, or does not begin with the hospital's own code and a hyphen.

not starts_with(operation_id_text, sender || '-') or operation_id_text = sender || '-'
