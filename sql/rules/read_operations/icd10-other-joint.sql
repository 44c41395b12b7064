-- One of the two is of another operation. A code that the map does not have is not judged.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    icd10_text
-- text:     The ICD-10 code is of another part of the body than the joint.

icd10_is_formed and icd10_joints is not null and not list_contains(icd10_joints, joint)
