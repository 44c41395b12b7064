-- What cannot be read counts as not recorded, and the hospital is told, so that it is not lost unseen.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    concat_ws(', ',
--           case when height_cm is null and height_cm_text <> '' then 'height_cm ' || height_cm_text end,
--           case when weight_kg is null and weight_kg_text <> '' then 'weight_kg ' || weight_kg_text end,
--           case when admission_date is null and admission_date_text <> ''
--               then 'admission_date ' || admission_date_text end,
--           case when discharge_date is null and discharge_date_text <> ''
--               then 'discharge_date ' || discharge_date_text end)
-- text:     Height or weight is not a number, or the day of admission or discharge is impossible or not written as
--           2024-03-31.

(height_cm is null and height_cm_text <> '')
or (weight_kg is null and weight_kg_text <> '')
or (admission_date is null and admission_date_text <> '')
or (discharge_date is null and discharge_date_text <> '')
