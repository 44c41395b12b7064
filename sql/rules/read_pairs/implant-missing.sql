-- A pair has two.
--
-- version:  1
-- severity: reject
-- starts:   1900-01-01
-- text:     One of the two implants is missing.

implant_text = '' or paired_implant_text = ''
