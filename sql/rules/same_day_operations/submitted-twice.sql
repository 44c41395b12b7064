-- One operation under two numbers: the first received is counted, whichever hospital's file
-- came first.
--
-- version:  1
-- severity: known already
-- starts:   1900-01-01
-- shows:    first_operation_id
-- text:     The same operation, with the same components, was already sent under another number.

nth > 1 and same_components
