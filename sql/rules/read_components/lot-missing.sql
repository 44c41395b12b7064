-- A recall goes by lot.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- text:     The lot number of a component that was put in is missing.

action = 'implanted' and trim(lot_text) = ''
