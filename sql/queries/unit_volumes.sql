-- The patients, dates and latest volume of each hospital or surgeon of a cohort's primaries.
--
-- grain:    the grouping columns
-- reads:    follow_up
-- needs:    grouping, predicate
-- columns:  patients    bigint   patients; one with two joints counts once
--           first_date  varchar  first primary
--           last_date   varchar  last primary
--           last_year   bigint   primaries in the last 365 days of the cut, its last day included
select
    {grouping}
    count(distinct patient_no) as patients,
    min(implanted_date)::varchar as first_date,
    max(implanted_date)::varchar as last_date,
    count(*) filter (where implanted_date > $through::date - 365) as last_year
from follow_up
where {predicate}
group by all
