-- Outside these limits it is mostly a slip of the pen or in pounds.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    weight_kg_text || case when weight_kg > {operations.weight_kg.maximum} then ', perhaps in pounds' else '' end
-- text:     The weight is not a number of kilograms from {operations.weight_kg.minimum} to
--           {operations.weight_kg.maximum}; please check the value and its unit.

weight_kg not between {operations.weight_kg.minimum} and {operations.weight_kg.maximum}
