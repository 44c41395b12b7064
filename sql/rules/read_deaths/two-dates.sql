-- Nobody dies twice; until it is known which is right, neither is used.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    death_date_text
-- text:     This file gives two dates of death for one patient.

repeated_differently
