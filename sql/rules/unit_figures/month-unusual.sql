-- A file that came in part, or twice, shows here first.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- text:     The operations of the month differ by more than half from the twelve months before; please check that
--           all were sent, and once.

measure = 'operations in a month' and usual >= {month_least} and abs(figure - usual) > {month_change} * usual
