-- More than a day holds is mostly one code for several surgeons.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- text:     More than {surgeon_day} operations of one surgeon on one day; please check the codes.

measure = 'operations in a day' and figure > {surgeon_day}
