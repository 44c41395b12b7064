-- Which sequence numbers each sender has used.

select sender, kind, sequence, submission_id from submissions
