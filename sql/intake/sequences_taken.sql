-- Which sequence numbers each sender has used.
--
-- reads:    submissions

select sender, kind, sequence, submission_id from submissions
