-- Counted; a number misread is more frequent than an old stock.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    concat_ws(', ', catalogue_no, 'from ' || introduced_date, 'to ' || withdrawn_date)
-- text:     The component was put in before it came on the market or after it was withdrawn; please check its
--           catalogue number.

action = 'implanted' and (operation_date < introduced_date or operation_date > withdrawn_date)
