-- The decisions on links taken up to the end of a day (all, if none is given), oldest first, each with the one that
-- superseded it by then.
--
-- grain:    number
-- reads:    link_decisions
select
    d.number, d.revision_id, d.primary_id, d.decision, d.why, d.decided_by, d.decided_at, s.number as superseded_by
from link_decisions as d
left join link_decisions as s
    on s.supersedes = d.number and (:as_of is null or substr(s.decided_at, 1, 10) <= :as_of)
where :as_of is null or substr(d.decided_at, 1, 10) <= :as_of
order by d.number
