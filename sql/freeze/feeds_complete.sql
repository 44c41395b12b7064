-- Up to which date each sender's feed is complete.
--
-- reads:    complete_through

select kind, sender, complete_through from complete_through order by all
