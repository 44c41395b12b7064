-- A bearing that is fixed cannot dislocate.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    primary_bearing
-- text:     Bearing dislocation is given as a reason on a fixed bearing.

primary_bearing in ('fixed', 'one-piece') and has_dislocation and earlier_revisions = 0
