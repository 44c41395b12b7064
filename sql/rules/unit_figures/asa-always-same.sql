-- Patients differ, and so do their ASA classes.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    detail
-- text:     Nearly all patients of a surgeon in a year have one ASA class; please record it patient by patient.

measure = 'one ASA class' and rows >= {unit_rows} and figure >= {same_share}
