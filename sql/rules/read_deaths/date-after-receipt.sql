-- What has not happened yet cannot have been recorded.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    death_date_text
-- text:     The date of death lies after the day the file was received.

death_date > known_from
