-- The patient may need to be told, so the hospital hears of it at once.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    expiry_date_text
-- text:     The component was past its expiry date on the day of the operation; please tell the surgeon today.

action = 'implanted' and expiry_date < parent_date
