-- Joints that left follow-up, by group, day and outcome: the one count from which every figure
-- on implant survival is made. Outcome 0 is censored (in place or lost), 1 died, and from 2 on
-- the place of the leading reason in its list; a revision without a reason counts as the last.
--
-- grain:    the grouping columns, day, outcome
-- reads:    follow_up
-- needs:    grouping, reason, no_reason, predicate
-- columns:  day      integer   whole days since implantation
--           outcome  integer   0 censored, 1 died, 2 and more revised for a reason
--           joints   integer   joints of the group that left follow-up on that day in that way
select
    {grouping}
    days as day,
    case ended
        when 'revised' then 2 + coalesce(enum_code({reason})::integer, {no_reason})
        when 'died' then 1
        else 0
    end as outcome,
    count(*)::integer as joints
from follow_up
where {predicate}
group by all
