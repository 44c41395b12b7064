-- A body mass index outside 14 to 70 is mostly a slip of the pen; one that cannot be read
-- counts as not recorded.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    bmi_text
-- text:     The body mass index is not a number, or lies outside 14 to 70.

bmi_text <> '' and (bmi is null or bmi not between 14 and 70)
