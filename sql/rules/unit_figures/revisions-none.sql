-- Revisions of a busy hospital are seldom none: they are mostly unsent.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- text:     The hospital reports no revision in a year with more than {unit_primaries} primaries; please send those
--           that were done.

measure = 'revisions' and rows > {unit_primaries} and figure = 0
