-- Medial and lateral partial knees fail in different ways and are compared apart.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    nullif(compartment_text, '')
-- text:     The compartment of the partial knee, medial or lateral, is missing.

kind = 'primary' and joint = 'knee' and class = 'partial' and coalesce(compartment, '') not in ('medial', 'lateral')
and (compartment is not null or compartment_text = '')
