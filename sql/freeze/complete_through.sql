-- Up to which date each sender's feed of each kind was complete, as known then.
--
-- creates:  complete_through

create or replace temp table complete_through as
select kind, sender, max(complete_through) as complete_through
from registry.submissions
where received_date <= $as_of
group by kind, sender
