-- Cohorts that people gave a name: one line each time one is saved or removed. Lines are only added; of several of one
-- name the last stands.
--
-- creates:  named_cohorts
-- reads:    office_parts

create table named_cohorts (
    number   integer primary key,
    name     text not null check (name <> ''),
    words    text not null,  -- canonical filter words; of a removed one, those it had
    removed  integer not null check (removed in (0, 1)),
    note     text not null,  -- what it is for, empty where nothing was said
    saved_by text not null,  -- who says to have done it: REGDASH_USER, else the account
    account  text not null,  -- the account of the operating system
    saved_at text not null   -- UTC, ISO 8601, to the second
) strict;

create trigger named_cohorts_are_not_changed before update on named_cohorts
begin
    select raise(abort, 'named cohorts are append-only');
end;

create trigger named_cohorts_are_not_removed before delete on named_cohorts
begin
    select raise(abort, 'named cohorts are append-only');
end;

create trigger named_cohorts_follow_each_other before insert on named_cohorts
when new.number <> 1 + (select coalesce(max(number), 0) from named_cohorts)
begin
    select raise(abort, 'named cohorts are append-only');
end;
