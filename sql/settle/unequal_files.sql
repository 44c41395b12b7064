-- Files whose rows do not add up; there must be none.
--
-- reads:    settled_files, submissions

select s.submission_id, f.table_name, f.received, f.accepted, f.held, f.rejected, f.known_already
from settled_files as f
join submissions as s on s.submission_no = f.submission_no
where f.received <> f.accepted + f.held + f.rejected + f.known_already
    or least(f.accepted, f.held, f.rejected, f.known_already) < 0
order by s.submission_id, f.table_name
