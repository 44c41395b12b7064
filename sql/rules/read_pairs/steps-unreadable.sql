-- How far two sizes may lie apart must be known, or no combination could be judged.
--
-- version:  1
-- severity: reject
-- starts:   1900-01-01
-- shows:    size_steps_text
-- text:     The size steps are not a whole number, 0 where sizes must be the same.

size_steps is null
