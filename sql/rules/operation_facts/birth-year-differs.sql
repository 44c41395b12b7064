-- Two people under one pseudonym would share each other's revisions and deaths.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    birth_year
-- text:     The year of birth differs by more than a year from the patient's first operation; possibly another
--           patient.

abs(birth_year - first_birth_year) > 1
