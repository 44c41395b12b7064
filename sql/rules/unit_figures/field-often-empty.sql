-- A field that one hospital leaves empty biases every comparison by it.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    detail
-- text:     A field is empty more than {missing_times} times as often as at the usual hospital; please fill it in.

measure = 'empty' and rows >= {unit_rows} and figure > {missing_least} and figure > {missing_times} * usual
