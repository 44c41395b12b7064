-- First and latest date on which anything was received; null in an empty store.
--
-- reads:    submissions

select min(received_date) as first, max(received_date) as latest from submissions
