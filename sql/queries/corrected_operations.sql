-- Operations that submissions changed, as the correction log of a cut has them, from what was known after a day on.
--
-- grain:    operation_id, submission_id
-- reads:    corrections, submissions
-- columns:  operation_id   varchar  operation record
--           submission_id  varchar  the submission that changed it
--           hospital_id    varchar  who sent it
--           received_date  date     when it was received
--           sequence       integer  its number in the order of its sender
select distinct c.record_id as operation_id, c.submission_id, c.hospital_id, s.received_date, s.sequence
from corrections as c
join submissions as s on s.submission_id = c.submission_id
where c.corrected_on > $since::date and c.table_name in ('operations', 'components', 'reasons')
