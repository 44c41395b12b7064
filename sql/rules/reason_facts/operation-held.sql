-- What belongs to an operation is counted with it or not at all.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- text:     The operation it belongs to is held.

operation_end = 'held'
