-- Labels are compared with it.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    gtin_text
-- text:     The GTIN has a wrong number of digits, or its check digit does not hold.

gtin_text <> '' and not gtin_check_holds(gtin_text)
