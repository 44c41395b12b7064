-- A component used before its launch or after its withdrawal is told by these dates.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    concat_ws(', ', nullif(introduced_date_text, ''), nullif(withdrawn_date_text, ''))
-- text:     The date of launch or withdrawal is impossible or not written as 2024-03-31.

(introduced_date is null and introduced_date_text <> '') or (withdrawn_date is null and withdrawn_date_text <> '')
