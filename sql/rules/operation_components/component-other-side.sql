-- Either the side of the operation or the scan is wrong; only the hospital knows which.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- text:     A component that fits one side only was put in on the other; please check side and component.

marks & 8 = 8
