-- By what the store was settled, and how far.
--
-- writes:   settled_state

delete from settled_state;
insert into settled_state
select max(submission_no), $as_of, $settled_by from submissions
