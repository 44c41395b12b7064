-- Counted as not marked.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    leads_text
-- text:     The mark of the leading reason is not yes, no or empty; it was counted as empty.

leads is null and leads_text <> ''
