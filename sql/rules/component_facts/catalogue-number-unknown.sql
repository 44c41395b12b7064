-- The component is held and its operation counted; the entry may arrive later. Cement without a number is no part of
-- the joint.
--
-- version:  2
-- severity: hold
-- starts:   1900-01-01
-- shows:    catalogue_no
-- text:     The catalogue number is not in the catalogue.

not is_in_catalogue and not (role is not distinct from 'cement' and catalogue_no = '')
