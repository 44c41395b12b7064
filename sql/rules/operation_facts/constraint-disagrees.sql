-- The catalogue's word is used.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    constraint_design || ' on the form, ' || catalogue_constraint || ' in the catalogue'
-- text:     The constraint design differs from the catalogue's; the catalogue's was used.

kind = 'primary' and constraint_design not in ('not recorded', 'not applicable') and catalogue_constraint <> constraint_design
