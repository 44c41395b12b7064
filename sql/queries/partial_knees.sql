-- How many knees of each hospital or surgeon are partial.
--
-- grain:    the grouping columns
-- reads:    follow_up
-- needs:    grouping, predicate
-- columns:  partial  bigint  partial and patellofemoral ones
--           knees    bigint  all of them
select
    {grouping}
    count(*) filter (where class in ('partial', 'patellofemoral')) as partial,
    count(*) as knees
from follow_up
where joint = 'knee' and {predicate}
group by all
