-- A class that the joint does not have would be counted with nothing.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    class
-- text:     The class is not one of this joint.

class is not null and not {class_of_joint}
