-- The number and the hash of the last line of the audit trail.
--
-- grain:    line
-- reads:    audit_lines
select line, hash from audit_lines order by line desc limit 1
