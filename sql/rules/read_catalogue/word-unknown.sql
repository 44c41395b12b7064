-- A word outside the code lists would be counted under nothing.
--
-- version:  2
-- severity: hold
-- starts:   1900-01-01
-- shows:    concat_ws(', ',
--           case when role is null then 'role ' || role_text end,
--           case when joint is null then 'joint ' || joint_text end,
--           case when class is null and class_text <> '' then 'class ' || class_text end,
--           case when bearing is null and bearing_text <> '' then 'bearing ' || bearing_text end,
--           case when constraint_design is null and constraint_text <> '' then 'constraint ' || constraint_text end,
--           case when fixation is null and fixation_text <> '' then 'fixation ' || fixation_text end,
--           case when material is null and material_text <> '' then 'material ' || material_text end,
--           case when side is null and side_text <> '' then 'side ' || side_text end)
-- text:     A field has a word that is not in its code list.

role is null
or joint is null
or (class is null and class_text <> '')
or (bearing is null and bearing_text <> '')
or (constraint_design is null and constraint_text <> '')
or (fixation is null and fixation_text <> '')
or (material is null and material_text <> '')
or (side is null and side_text <> '')
