-- Total or partial is the first thing every comparison asks for.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    class || ' on the form, ' || catalogue_class || ' by its components'
-- text:     The components belong to another class than the form says.

kind = 'primary' and class is not null and catalogue_class <> class
