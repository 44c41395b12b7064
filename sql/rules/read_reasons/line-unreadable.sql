-- The line number tells rows of one operation apart.
--
-- version:  1
-- severity: reject
-- starts:   1900-01-01
-- shows:    line_no_text
-- text:     The line number is missing or not a whole number.

line_no is null
