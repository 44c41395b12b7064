-- Operations that submissions change or add: not those that they only repeat, and only those of several versions.
--
-- grain:    operation_id, submission_id
-- reads:    versions_operations, submissions

select v.operation_id, s.submission_id, s.sender, s.received_date, s.sequence
from versions_operations as v
join submissions as s on s.submission_no = v.submission_no
semi join (select unnest($submissions::varchar[]) as submission_id) as n on n.submission_id = s.submission_id
where v.standing <> 'repeat'
