-- A primary has no reason for revision: it is a revision sent as a primary, or reasons of
-- another record.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    reasons
-- text:     A primary has reasons for revision; if it was a revision, send it as one.

kind = 'primary' and reasons > 0
