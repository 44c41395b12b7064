-- What the envelope of a correction must say: the next sequence of the hospital, and how far its feed is complete.
--
-- grain:    one row
-- reads:    submissions
select max(sequence) + 1 as sequence, max(complete_through) as complete_through
from submissions
where sender = $hospital and kind = 'operations'
