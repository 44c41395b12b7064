-- Add a decision on a link, after all others; it supersedes the last one on the same revision.
--
-- writes:   link_decisions
insert into link_decisions
    (number, revision_id, primary_id, decision, why, decided_by, account, decided_at, supersedes)
select
    1 + coalesce(max(number), 0), :revision_id, :primary_id, :decision, :why, :decided_by, :account, :decided_at,
    max(number) filter (where revision_id = :revision_id)
from link_decisions
