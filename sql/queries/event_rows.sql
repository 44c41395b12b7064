-- How each joint left follow-up: the rows of which the one count is made that every figure on implant survival
-- comes from. Outcome 0 is censored (in place or lost), 1 died, and from 2 on the place of the leading reason in
-- its list; a revision without a reason counts as the last. Sorting these few small numbers is quicker than
-- grouping them in the database, where cells are nearly as many as joints. Some joints are asked for at a time.
--
-- grain:    joint
-- reads:    follow_up
-- needs:    grouping, reason, no_reason, predicate
-- columns:  day      integer   whole days since implantation
--           outcome  smallint  0 censored, 1 died, 2 and more revised for a reason
select
    {grouping}
    days as day,
    case ended
        when 'revised' then 2::smallint + coalesce(enum_code({reason}), {no_reason})::smallint
        when 'died' then 1::smallint
        else 0::smallint
    end as outcome
from follow_up
where joint_no >= $first_joint
and joint_no < $end_joint
and ({predicate})
