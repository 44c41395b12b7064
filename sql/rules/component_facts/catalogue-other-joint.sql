-- The component is held and its operation counted.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    catalogue_no || ' is for the ' || catalogue_joint
-- text:     The catalogue number is of a component for another joint; please check it.

catalogue_joint <> joint and role is distinct from 'cement'
