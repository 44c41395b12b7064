-- What comes late is missing from the latest figures.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- text:     Half of the operations of the year were received more than {lag_days} days later; please send them each
--           quarter.

measure = 'days to receipt' and rows >= {unit_rows} and figure > {lag_days}
