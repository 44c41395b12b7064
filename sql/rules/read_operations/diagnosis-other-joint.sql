-- A diagnosis that the joint cannot have is of another patient or another joint.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    diagnosis
-- text:     The diagnosis is not one of this joint.

kind = 'primary' and not {diagnosis_of_joint}
