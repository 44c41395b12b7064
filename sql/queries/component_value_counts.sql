-- How many joints of a cohort have each value of a field of their primary's components.
--
-- grain:    value
-- reads:    component_life, follow_up
-- needs:    value, predicate
-- columns:  value   varchar  value of the field
--           joints  bigint   joints with a component that has it
select {value}::varchar as value, count(distinct joint_no) as joints
from component_life
where in_day = 0 and joint_no in (select joint_no from follow_up where {predicate})
group by value
