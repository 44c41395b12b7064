-- A patient who emigrated may have come back; one who opted out must be asked.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    loss_date
-- text:     The operation lies after the patient emigrated or opted out.

operation_date > loss_date
