-- The audit trail: one line an act, numbered without gaps, never changed. Each line carries the hash of the line before.
--
-- creates:  audit_lines
-- reads:    office_parts

create table audit_lines (
    line          integer primary key,
    at            text not null,  -- UTC, ISO 8601, to the second
    who           text not null,  -- who says to have done it: REGDASH_USER, else the account
    account       text not null,  -- the account of the operating system
    what          text not null,  -- receive, freeze, export …
    subject       text not null,  -- submission, cut …; never a patient
    why           text not null,  -- free text, empty where none was given
    outcome       text not null,  -- done, or how it ended else
    details       text not null,  -- JSON object: counts, hashes
    previous_hash text not null,  -- hash of the line before; 64 zeros in the first
    hash          text not null   -- SHA-256 of the canonical JSON of all the others
) strict;

create trigger audit_lines_are_not_changed before update on audit_lines
begin
    select raise(abort, 'the audit trail is append-only');
end;

create trigger audit_lines_are_not_removed before delete on audit_lines
begin
    select raise(abort, 'the audit trail is append-only');
end;

create trigger audit_lines_follow_each_other before insert on audit_lines
when new.line <> 1 + (select coalesce(max(line), 0) from audit_lines)
    or new.previous_hash <> coalesce((select hash from audit_lines order by line desc limit 1), new.previous_hash)
begin
    select raise(abort, 'the audit trail is append-only');
end;
