-- What became of the rows of each file.
--
-- reads:    submission_files, submissions

select s.submission_id, f.table_name, f.received, f.accepted, f.held, f.rejected, f.known_already
from submission_files as f
join submissions as s on s.submission_no = f.submission_no
