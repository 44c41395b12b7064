-- Whether a component had expired can be told from this date alone.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    expiry_date_text
-- text:     The date of expiry is impossible or not written as 2024-03-31.

expiry_date is null and expiry_date_text <> ''
