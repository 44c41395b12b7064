-- The episodes go to the cut.
--
-- writes:   revision_episodes

insert into cut.revision_episodes by name select * from episodes order by joint_no, sequence
