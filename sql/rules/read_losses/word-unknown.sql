-- Emigration and opting out are different answers.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    loss_text
-- text:     The kind of loss is missing or not in the code list.

loss is null
