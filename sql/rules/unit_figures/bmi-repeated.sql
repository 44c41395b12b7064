-- Patients in a row with the same body mass index to a tenth are mostly copied from the one before.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    detail
-- text:     At least {same_in_a_row} patients in a row have the same body mass index; please send what was measured.

measure = 'run of one body mass index' and figure >= {same_in_a_row}
