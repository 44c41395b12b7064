-- Outside these limits it is mostly a slip of the pen or in metres or inches. Where it was swapped with the weight,
-- that is said instead.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    height_cm_text || case
--               when height_cm between 1.2 and 2.15 then ', perhaps in metres'
--               when height_cm between 47 and 85 then ', perhaps in inches'
--               else ''
--           end
-- text:     The height is not a number of centimetres from {operations.height_cm.minimum} to
--           {operations.height_cm.maximum}; please check the value and its unit.

height_cm not between {operations.height_cm.minimum} and {operations.height_cm.maximum}
and not coalesce(weight_kg between {operations.height_cm.minimum} and {operations.height_cm.maximum} and weight_kg > height_cm and height_cm > 0
    and weight_kg / (height_cm / 100) ^ 2 not between {operations.bmi.minimum} and {operations.bmi.maximum}
    and height_cm / (weight_kg / 100) ^ 2 between {operations.bmi.minimum} and {operations.bmi.maximum}, false)
