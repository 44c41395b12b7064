-- Of some operations those that count in a cut, with the place in its sender's order of the submission they came in.
--
-- grain:    operation_id
-- reads:    operations, submissions
-- columns:  operation_id  varchar  operation record
--           sequence      integer  number of the submission in the order of its sender
select o.operation_id, s.sequence
from operations as o
join submissions as s on s.submission_id = o.submission_id
semi join (select unnest($operation_ids::varchar[]) as operation_id) as n on n.operation_id = o.operation_id
