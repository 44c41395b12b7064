-- Components are counted by implant and maker.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- text:     The implant or its maker is missing.

implant_text = '' or maker_text = ''
