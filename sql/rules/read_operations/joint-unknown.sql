-- What joint it is decides every code list.
--
-- version:  1
-- severity: reject
-- starts:   1900-01-01
-- shows:    joint_text
-- text:     The joint is missing or not in the code list.

joint is null
