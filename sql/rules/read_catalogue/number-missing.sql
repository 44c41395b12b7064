-- Components find their entry by the number.
--
-- version:  1
-- severity: reject
-- starts:   1900-01-01
-- text:     The catalogue number is missing.

catalogue_no_text = ''
