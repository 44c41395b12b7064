-- A primary begins a joint's life, a revision belongs to one that has begun.
--
-- version:  1
-- severity: reject
-- starts:   1900-01-01
-- shows:    kind_text
-- text:     The kind of operation is missing or not in the code list; it is primary or revision.

kind is null
