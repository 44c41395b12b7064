-- A late correction moves figures that were given out; who reads them must be able to learn why.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    concat(operations, ' of data cut ', cut)
-- text:     The submission changes operations that a data cut had counted; what changed is in the log of corrections.
--           Please say why in its envelope, as reason_for_correction.

operations > 0
