-- What has not happened yet cannot have been recorded.
--
-- version:  1
-- severity: reject
-- starts:   1900-01-01
-- shows:    operation_date_text
-- text:     The date of the operation lies after the day the file was received.

operation_date > known_from
