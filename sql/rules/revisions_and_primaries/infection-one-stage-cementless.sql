-- Done, but seldom: worth a second look.
--
-- version:  1
-- severity: note
-- starts:   1900-01-01
-- text:     All components were exchanged in one stage for infection, without cement.

leading_group = 'infection' and stage = 'single' and action = 'all components exchanged' and fixation = 'cementless'
