-- What the hospital's own system counts and the register does not was not sent, is held, or was sent twice.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- text:     The operations of the month that count here differ by more than {count_percent} % from the hospital's
--           administrative count; please check what was not sent, is held or was sent twice.

measure = 'administrative count' and rows >= {month_least} and abs(figure - usual) * 100 > {count_percent} * usual
