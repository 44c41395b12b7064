-- Each sender's feeds as known then, hospitals that have sent nothing too.
--
-- grain:    feed, sender
-- reads:    submissions, hospitals
-- columns:  feed varchar
--           sender varchar
--           submissions bigint
--           last_received date
--           complete_through date

select
    coalesce(s.kind, 'operations') as feed,
    coalesce(s.sender, h.hospital_id) as sender,
    count(s.submission_id) as submissions,
    max(s.received_date) as last_received,
    max(s.complete_through) as complete_through
from submissions as s
full join hospitals as h on h.hospital_id = s.sender and s.kind = 'operations'
group by coalesce(s.kind, 'operations'), coalesce(s.sender, h.hospital_id)
order by feed <> 'operations', feed, sender
