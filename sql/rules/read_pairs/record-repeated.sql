-- A file that says two things of one record leaves no way to tell which is meant.
--
-- version:  1
-- severity: reject
-- starts:   1900-01-01
-- text:     The pair of implants stands more than once in this file, with different content.

repeated_differently
