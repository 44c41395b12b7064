-- Worth a question before it grows.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- text:     Operations of the year were received much later than those of the year before; please say what changed.

measure = 'days to receipt' and rows >= {unit_rows} and figure > {lag_days} / 2 and figure > {lag_times} * usual
