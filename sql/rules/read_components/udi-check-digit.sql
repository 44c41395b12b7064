-- A digit was misread or mistyped; the component is known by its catalogue number.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    udi_text
-- text:     The check digit of the device label does not hold; please scan or type it again.

label_fault = 'check-digit'
