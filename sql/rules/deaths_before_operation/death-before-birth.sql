-- A death before the year of birth is of somebody else or has a wrong date.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    death_date
-- text:     The date of death lies before the year of birth.

year(death_date) < birth_year
