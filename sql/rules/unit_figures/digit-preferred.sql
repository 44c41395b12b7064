-- Measured values end in every digit alike.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    detail
-- text:     More than half of the body mass indices of a surgeon in a year end in one digit; please measure and do
--           not round.

measure = 'last digit of body mass index' and rows >= {unit_rows} and figure > {digit_share}
