-- The audit trail, or its lines since a time or of one act.
--
-- grain:    line
-- reads:    audit_lines
select line, at, who, account, what, subject, why, outcome, details, previous_hash, hash
from audit_lines
where (:since is null or at >= :since) and (:what is null or what = :what)
order by line
