-- An operation, its components and its reasons are one record and come in one submission.
--
-- version:  1
-- severity: reject
-- starts:   1900-01-01
-- shows:    operation_id_text
-- text:     The operation of this component is not in the same submission; send the operation with all that
--           belongs to it.

parent_no is null
