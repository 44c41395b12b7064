-- What belongs to a row that was not taken in cannot be kept alone.
--
-- version:  1
-- severity: reject
-- starts:   1900-01-01
-- text:     The operation of this component was rejected; send it again with the operation.

parent_is_rejected
