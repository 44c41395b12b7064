-- By what the store was last settled and how far; no row where it never was.
--
-- reads:    settled_state, submissions

select t.submissions, t.as_of, t.settled_by, (select max(received_date) from submissions) as latest
from settled_state as t
