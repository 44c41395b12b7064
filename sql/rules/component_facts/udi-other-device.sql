-- The catalogue number of the form is used. A label whose check digit fails is said to be that instead.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    catalogue_no || ', ' || udi
-- text:     The device label is of another device than the catalogue number; please check both.

udi <> '' and not contains(udi, catalogue_gtin)
and gtin_check_holds(regexp_extract(udi, '(?:^|[^0-9])[(]?01[)]?([0-9]{14})', 1))
