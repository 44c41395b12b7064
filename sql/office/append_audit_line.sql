-- Add a line to the audit trail.
--
-- writes:   audit_lines
insert into audit_lines (line, at, who, account, what, subject, why, outcome, details, previous_hash, hash)
values (:line, :at, :who, :account, :what, :subject, :why, :outcome, :details, :previous_hash, :hash)
