-- The order of reasons in the vocabulary then decides which leads.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    leading_reasons
-- text:     No reason, or more than one, is marked as the leading one.

kind = 'revision' and reasons > 1 and leading_reasons <> 1
