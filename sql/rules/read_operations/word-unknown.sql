-- A word outside the code lists would be counted under nothing.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    concat_ws(', ',
--           case when sex is null and sex_text <> '' then 'sex ' || sex_text end,
--           case when class is null and class_text <> '' then 'class ' || class_text end,
--           case when compartment is null and compartment_text <> '' then 'compartment ' || compartment_text end,
--           case when bearing is null and bearing_text <> '' then 'bearing ' || bearing_text end,
--           case when constraint_design is null and constraint_text <> '' then 'constraint ' || constraint_text end,
--           case when fixation is null and fixation_text <> '' then 'fixation ' || fixation_text end,
--           case when patella is null and patella_text <> '' then 'patella ' || patella_text end,
--           case when approach is null and approach_text <> '' then 'approach ' || approach_text end,
--           case when technology is null and technology_text <> '' then 'technology ' || technology_text end,
--           case when prophylaxis is null and prophylaxis_text <> '' then 'prophylaxis ' || prophylaxis_text end,
--           case when diagnosis is null and diagnosis_text <> '' then 'diagnosis ' || diagnosis_text end,
--           case when asa is null and asa_text <> '' then 'asa ' || asa_text end,
--           case when stage is null and kind = 'revision' and stage_text <> '' then 'stage ' || stage_text end,
--           case when action_is_unknown then 'action ' || action_text end,
--           case when stem_used is null and stem_used_text <> '' then 'stem_used ' || stem_used_text end,
--           case when augment_used is null and augment_used_text <> '' then 'augment_used ' || augment_used_text end,
--           case when graft_used is null and graft_used_text <> '' then 'graft_used ' || graft_used_text end)
-- text:     A field has a word that is not in its code list.

(sex is null and sex_text <> '')
or (class is null and class_text <> '')
or (compartment is null and compartment_text <> '')
or (bearing is null and bearing_text <> '')
or (constraint_design is null and constraint_text <> '')
or (fixation is null and fixation_text <> '')
or (patella is null and patella_text <> '')
or (approach is null and approach_text <> '')
or (technology is null and technology_text <> '')
or (prophylaxis is null and prophylaxis_text <> '')
or (diagnosis is null and diagnosis_text <> '')
or (asa is null and asa_text <> '')
or (stage is null and kind = 'revision' and stage_text <> '')
or action_is_unknown
or (stem_used is null and stem_used_text <> '')
or (augment_used is null and augment_used_text <> '')
or (graft_used is null and graft_used_text <> '')
