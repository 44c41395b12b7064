-- What is called wear so early is mostly something else.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    operation_date - primary_date
-- text:     Wear leads to a revision within {early_wear_days} days of the primary; please check the reason.

leading_group = 'wear' and earlier_revisions = 0
and operation_date - primary_date < {early_wear_days}
