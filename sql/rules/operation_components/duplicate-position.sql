-- A place in the joint takes one component. Two are of two operations, or one was scanned twice.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- text:     Two components are listed in one place of the joint; please send the operation again with the one that
--           was put in.

kind = 'primary' and places & 15658734 <> 0
