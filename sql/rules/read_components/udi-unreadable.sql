-- The component is known by its catalogue number. Labels of other agencies are kept and not judged.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    label_fault || ': ' || udi_text
-- text:     The device label cannot be read as GS1 elements; please scan it again.

label_fault not in ('empty', 'other-agency', 'check-digit')
