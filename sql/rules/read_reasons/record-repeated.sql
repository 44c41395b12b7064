-- A file that says two things of one record leaves no way to tell which is meant.
--
-- version:  1
-- severity: reject
-- starts:   1900-01-01
-- shows:    line_no_text
-- text:     The line number stands more than once in this operation, with different content.

repeated_differently
