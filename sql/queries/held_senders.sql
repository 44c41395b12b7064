-- Who has submitted anything.
--
-- grain:    sender
-- reads:    submissions
-- columns:  sender  varchar  hospital, or office for the feeds that no hospital sends
select distinct sender from submissions order by sender
