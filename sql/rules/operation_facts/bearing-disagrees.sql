-- The catalogue's word is used.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    bearing || ' on the form, ' || catalogue_bearing || ' in the catalogue'
-- text:     The mobility of the bearing differs from the catalogue's; the catalogue's was used.

kind = 'primary' and bearing <> 'not recorded' and catalogue_bearing <> bearing
