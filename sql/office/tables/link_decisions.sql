-- What people decided on single links: a revision joined to a primary, or such a link undone. Lines are only added; of
-- several on one revision the last stands, and says which it supersedes.
--
-- creates:  link_decisions
-- reads:    office_parts

create table link_decisions (
    number      integer primary key,
    revision_id text not null,     -- operation record of the revision
    primary_id  text not null,     -- operation record of the primary that it was joined to, or taken from
    decision    text not null check (decision in ('accepted', 'undone')),
    why         text not null check (why <> ''),
    decided_by  text not null,     -- who says to have done it: REGDASH_USER, else the account
    account     text not null,     -- the account of the operating system
    decided_at  text not null,     -- UTC, ISO 8601, to the second
    supersedes  integer unique references link_decisions (number)  -- the decision on this revision before it
) strict;

create trigger link_decisions_are_not_changed before update on link_decisions
begin
    select raise(abort, 'decisions on links are append-only');
end;

create trigger link_decisions_are_not_removed before delete on link_decisions
begin
    select raise(abort, 'decisions on links are append-only');
end;

create trigger link_decisions_follow_each_other before insert on link_decisions
when new.number <> 1 + (select coalesce(max(number), 0) from link_decisions)
begin
    select raise(abort, 'decisions on links are append-only');
end;
