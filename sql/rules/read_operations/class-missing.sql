-- A primary that is neither total nor partial belongs in no comparison.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- text:     The class of the primary, total or partial, is missing.

kind = 'primary' and class_text = ''
