-- What is known of each submission: its envelope, and the hash of each of its files.
--
-- reads:    submissions, submission_files

select
    s.submission_id, s.kind, s.sender, s.sequence, s.received_date, s.complete_through, f.table_name, f.sha256
from submissions as s
join submission_files as f on f.submission_no = s.submission_no
