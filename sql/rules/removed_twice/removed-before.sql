-- What came out cannot come out again: this revision was sent before, or is of another joint.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    catalogue_no
-- text:     A component was taken out that an earlier revision had taken out already; please check patient, side and
--           components.

true
