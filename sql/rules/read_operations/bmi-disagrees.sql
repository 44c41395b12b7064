-- The three are measured once and written down by several people. A weight in pounds shows here.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    bmi_text || ', but ' || round(weight_kg / (height_cm / 100) ^ 2, 1) || ' by height and weight' || case
--               when abs(bmi - weight_kg / 2.2046 / (height_cm / 100) ^ 2) <= {bmi_difference} then ', perhaps the weight is in pounds'
--               else ''
--           end
-- text:     The body mass index differs by more than {bmi_difference} from weight over height squared; please check
--           all three.

height_cm between {operations.height_cm.minimum} and {operations.height_cm.maximum}
and abs(bmi - weight_kg / (height_cm / 100) ^ 2) > {bmi_difference}
and not coalesce(weight_kg between {operations.height_cm.minimum} and {operations.height_cm.maximum} and weight_kg > height_cm and height_cm > 0
    and weight_kg / (height_cm / 100) ^ 2 not between {operations.bmi.minimum} and {operations.bmi.maximum}
    and height_cm / (weight_kg / 100) ^ 2 between {operations.bmi.minimum} and {operations.bmi.maximum}, false)
