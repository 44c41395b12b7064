-- A total knee leaves no compartment in which disease could progress.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- text:     Progression of disease is given as a reason on a total knee.

primary_class = 'total' and has_progression and earlier_revisions = 0
