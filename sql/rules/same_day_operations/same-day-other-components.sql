-- One joint is not operated twice in a day by the same kind of operation; one of the two is
-- wrong.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    first_operation_id
-- text:     Another operation of the same kind on this joint and day has other components.

nth > 1 and not same_components
