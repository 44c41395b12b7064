-- A system used outside these dates draws a warning, so they must be readable.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    concat_ws(', ', nullif(active_from_text, ''), nullif(active_to_text, ''))
-- text:     The first or last day of the system is impossible or not written as 2024-03-31.

(active_from is null and active_from_text <> '') or (active_to is null and active_to_text <> '')
