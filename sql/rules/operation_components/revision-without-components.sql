-- What a revision did is told by the components that went in and out.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- text:     A revision lists no component put in or taken out; please send it again with its components.

kind = 'revision' and not has_components
