-- A component is in one patient. Which of the two is wrong, only the hospitals know, so both are held.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    serial
-- text:     A component with this serial number was put into another patient too; please check the label.

true
