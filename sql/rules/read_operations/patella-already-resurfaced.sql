-- A primary finds the patella as it grew. Resurfaced before, the joint had an operation that was not sent.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- text:     A first primary says that the patella was already resurfaced; if this was a revision, send it as one.

kind = 'primary' and patella = 'already resurfaced'
