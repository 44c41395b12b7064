-- A body mass index outside these limits is mostly a slip of the pen; one that cannot be read
-- counts as not recorded.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    bmi_text
-- text:     The body mass index is not a number, or lies outside {operations.bmi.minimum} to {operations.bmi.maximum}.

bmi_text <> '' and (bmi is null or bmi not between {operations.bmi.minimum} and {operations.bmi.maximum})
