-- Rare enough under thirty to be a wrong diagnosis or year of birth more often than not.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    birth_year_text
-- text:     Osteoarthritis under 30 years of age: please check diagnosis and year of birth.

diagnosis = 'osteoarthritis' and year(operation_date) - birth_year < 30
