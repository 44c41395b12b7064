-- Kept, and counted under both names.
--
-- version:  1
-- severity: note
-- starts:   1900-01-01
-- shows:    first_maker || ' and ' || last_maker
-- text:     The main components are of different makers.

kind = 'primary' and first_maker <> last_maker
