-- A component without a place in the joint has no life to follow.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    role_text
-- text:     The role of the component is missing or not in the code list.

role is null
