-- What the office was asked for: one line when a request is received, and one each time something becomes of it. Lines
-- are only added. Who asked is a kind and at most a code, never a person.
--
-- creates:  requests
-- reads:    office_parts

create table requests (
    number     integer primary key,
    request    integer not null,  -- 1, 2, 3 … without gaps; written R001
    act        text not null check (act in ('received', 'answered', 'closed', 'mistaken')),
    kind       text not null
        check (kind in ('maker', 'researcher', 'hospital', 'surgeon', 'authority', 'patient', 'press')),
    code       text not null,     -- of who asked, as M03; empty where there is none
    said       text not null,     -- what was asked; of another act what was said of it, empty where nothing was
    day        text not null,     -- on which it was received, answered or closed
    due        text,              -- of a received one: by when an answer is promised
    given      text not null,     -- of an answer: name of the file or folder that went out, empty where none did
    checksum   text not null,     -- SHA-256 over its files
    written_by text not null,     -- who says to have done it: REGDASH_USER, else the account
    account    text not null,     -- the account of the operating system
    written_at text not null      -- UTC, ISO 8601, to the second
) strict;

create trigger requests_are_not_changed before update on requests
begin
    select raise(abort, 'the register of requests is append-only');
end;

create trigger requests_are_not_removed before delete on requests
begin
    select raise(abort, 'the register of requests is append-only');
end;

create trigger requests_follow_each_other before insert on requests
when new.number <> 1 + (select coalesce(max(number), 0) from requests)
    or (new.act = 'received' and new.request <> 1 + (select coalesce(max(request), 0) from requests))
    or (new.act <> 'received' and not exists (select 1 from requests where request = new.request))
    or exists (select 1 from requests where request = new.request and act in ('closed', 'mistaken'))
begin
    select raise(abort, 'the register of requests is append-only');
end;
