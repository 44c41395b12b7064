-- A height under the weight, with which the patient would be of no plausible mass, and of a usual one the other way
-- round.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    height_cm_text || ' cm, ' || weight_kg_text || ' kg'
-- text:     Height and weight seem to stand in each other's place; please check both.

coalesce(weight_kg between {operations.height_cm.minimum} and {operations.height_cm.maximum} and weight_kg > height_cm and height_cm > 0
    and weight_kg / (height_cm / 100) ^ 2 not between {operations.bmi.minimum} and {operations.bmi.maximum}
    and height_cm / (weight_kg / 100) ^ 2 between {operations.bmi.minimum} and {operations.bmi.maximum}, false)
