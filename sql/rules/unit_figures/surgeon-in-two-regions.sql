-- Nobody operates in two regions on one day often.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- text:     The surgeon operated in hospitals of two regions on one day; please check code and date.

measure = 'regions in a day'
