-- A component of another joint is a wrong number or a wrong operation.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    catalogue_no
-- text:     The catalogue number is of a component for another joint.

catalogue_joint <> joint
