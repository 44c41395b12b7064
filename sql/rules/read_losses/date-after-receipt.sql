-- What has not happened yet cannot have been recorded.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    loss_date_text
-- text:     The date lies after the day the file was received.

loss_date > known_from
