-- Cement is listed on forms since 2015. How the components are held decides what they are compared with.
--
-- version:  1
-- severity: warn
-- starts:   2015-01-01
-- text:     The operation is called cementless and lists cement; please check the fixation.

kind = 'primary' and fixation = 'cementless' and marks & 4 = 4
