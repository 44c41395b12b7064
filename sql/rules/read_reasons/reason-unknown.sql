-- A reason outside the joint's code list would be counted under nothing.
--
-- version:  2
-- severity: reject
-- starts:   1900-01-01
-- shows:    reason_text
-- text:     The reason is missing or not in the code list of this joint.

reason is null or not {reason_of_joint}
