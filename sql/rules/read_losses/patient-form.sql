-- Records of one patient are brought together by the pseudonym alone.
--
-- version:  1
-- severity: reject
-- starts:   1900-01-01
-- shows:    patient_id_text
-- text:     The pseudonym of the patient is missing or not of the agreed form, P and nine digits, or Q and
--           sixteen letters and digits.

patient_id is null
