-- How many revisions of a cohort's joints are held back, and so counted in no risk.
--
-- grain:    one row
-- reads:    held_revisions, follow_up
-- needs:    predicate
-- columns:  held  bigint  revisions that are held back
select count(*) as held
from held_revisions
where joint_no in (
    select joint_no
    from follow_up
    where joint_no in (select held_revisions.joint_no from held_revisions) and {predicate}
)
