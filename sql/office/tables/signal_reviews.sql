-- What people decided on signals: one line a decision, each with the figures, the data cut and the settings it rests on.
-- Lines are only added; a decision says which one stood before it on the same unit, in the same window or in every one.
--
-- creates:  signal_reviews
-- reads:    office_parts

create table signal_reviews (
    number           integer primary key,
    kind             text not null check (kind in ('implants', 'constructs', 'sizes', 'lots')),
    joint            text not null,
    joint_class      text not null,
    role             text not null,
    code             text not null check (code <> ''),  -- of the implant, construct, size or lot
    window           text not null,  -- the window since implantation that it speaks of; every, where of all of them
    state            text not null
        check (state in ('under review', 'explained', 'confirmed', 'watching', 'closed')),
    why              text not null check (trim(why) <> ''),
    decided_by       text not null,  -- who says to have done it: REGDASH_USER, else the account
    account          text not null,  -- the account of the operating system
    decided_at       text not null,  -- UTC, ISO 8601, to the second
    cut              text not null,
    content_hash     text not null,  -- of that data cut
    cohort           text not null,  -- filter words of the screen, empty where it was of every joint
    settings_version text not null,  -- of screening.toml
    settings_hash    text not null,
    figures_of       text not null,  -- the window that the figures are of; empty where the screen has none of this unit
    signal           text not null,  -- what the screen said in that window
    joints           integer,        -- null here and below: withheld, or not defined
    implant_years    real,
    revisions        integer,
    expected         real,
    hazard_ratio     real,
    lower            real,
    upper            real,
    q                real,
    supersedes       integer references signal_reviews (number)  -- the decision that stood before
) strict;

create index signal_reviews_of_unit on signal_reviews (kind, code, joint, joint_class, role);

create trigger signal_reviews_are_not_changed before update on signal_reviews
begin
    select raise(abort, 'reviews of signals are append-only');
end;

create trigger signal_reviews_are_not_removed before delete on signal_reviews
begin
    select raise(abort, 'reviews of signals are append-only');
end;

create trigger signal_reviews_follow_each_other before insert on signal_reviews
when new.number <> 1 + (select coalesce(max(number), 0) from signal_reviews)
    or new.supersedes is not (
        select max(number)
        from signal_reviews
        where kind = new.kind and code = new.code and joint = new.joint and joint_class = new.joint_class
            and role = new.role and (window in (new.window, 'every') or new.window = 'every')
    )
begin
    select raise(abort, 'reviews of signals are append-only');
end;
