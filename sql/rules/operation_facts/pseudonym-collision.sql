-- Two people go under one pseudonym, and would share each other's revisions and deaths.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    sex || ', ' || birth_year
-- text:     Sex and year of birth both differ from the patient's first operation; this is another patient.

abs(birth_year - first_birth_year) > 1 and sex <> first_sex and sex <> 'not recorded'
