-- How many revisions are held back in all, those whose joint cannot be told included.
--
-- grain:    one row
-- reads:    held_revisions
-- columns:  held  bigint  revisions that are held back
select count(*) as held from held_revisions
