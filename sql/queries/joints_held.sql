-- Which joints a cohort holds.
--
-- grain:    joint
-- reads:    follow_up
-- needs:    predicate
-- columns:  number  integer  place of the joint in the list of joints, from 0
select distinct enum_code(joint)::integer as number
from follow_up
where {predicate}
order by number
