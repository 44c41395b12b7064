-- Why implants are revised is half of what the register is for. A second stage has the reason
-- of its first.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- text:     A revision has no reason that could be read.

kind = 'revision' and reasons = 0 and coalesce(stage, 'single') <> 'second of two'
