-- What belongs to an operation that was sent under two numbers is known with it.
--
-- version:  1
-- severity: known already
-- starts:   1900-01-01
-- text:     The operation it belongs to was already sent under another number.

operation_end = 'known already'
