-- Cement is listed on forms since 2015. How the components are held decides what they are compared with.
--
-- version:  1
-- severity: warn
-- starts:   2015-01-01
-- text:     The operation is called cemented and lists no cement; please check the fixation, or add the cement.

kind = 'primary' and fixation = 'cemented' and has_components and marks & 4 = 0
