-- A patient not expected to live without the operation has no planned joint replacement; after a fracture or for a
-- tumour it is possible.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    diagnosis
-- text:     ASA V in a planned primary: please check the ASA class.

asa = 'V' and kind = 'primary'
and diagnosis not in ('acute fracture', 'femoral-neck fracture', 'proximal humeral fracture', 'tumour', 'not recorded')
