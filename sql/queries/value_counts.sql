-- How many joints of a cohort have each value of a field, as its group's number or as text.
--
-- grain:    value
-- reads:    follow_up
-- needs:    value, predicate
-- columns:  value   any      what groups by it
--           joints  bigint   joints with it
select {value} as value, count(*) as joints
from follow_up
where {predicate}
group by value
