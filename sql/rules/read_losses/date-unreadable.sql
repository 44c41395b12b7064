-- Follow-up ends on this day.
--
-- version:  1
-- severity: reject
-- starts:   1900-01-01
-- shows:    loss_date_text
-- text:     The date is missing, impossible or not written as 2024-03-31.

loss_date is null
