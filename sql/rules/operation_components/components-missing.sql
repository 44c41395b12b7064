-- A joint is named and compared by its main components; without one it belongs to no implant.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- text:     A main component of this class is not listed; please send the operation again with all its components.

kind = 'primary' and {class_of_joint} and marks & 3 <> 3
