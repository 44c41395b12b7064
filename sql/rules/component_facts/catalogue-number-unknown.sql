-- The component is held and its operation counted; the entry may arrive later.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    catalogue_no
-- text:     The catalogue number is not in the catalogue.

not is_in_catalogue
