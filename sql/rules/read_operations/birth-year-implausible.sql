-- Age is part of every comparison; an impossible one is a wrong year or a wrong patient.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    birth_year_text
-- text:     The year of birth is missing, or gives an age under 12 or over 105 at the operation.

birth_year is null or year(operation_date) - birth_year not between 12 and 105
