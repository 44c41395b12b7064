-- A partial knee of another compartment, put in later, adds a component: it is a revision.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    first_operation_id
-- text:     This joint already has a partial primary of another compartment; send this one as a revision with a
--           component added.

nth > 1 and other_compartment
