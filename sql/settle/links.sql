-- Revisions that no rule holds, with their primary or with why there is none. Where a person decided, that counts as long
-- as both records stand, are of one joint and in order; a link that the records make by themselves needs no decision.
--
-- Why there is none, the first that holds:
-- link undone: a person took the link away.
-- primary held back: the joint's primary is held by a rule.
-- primary contested: another primary of the joint is held, and nothing says which of the two is true (contested_links);
--     the revision counts in no risk until a person accepts the counted primary or a hospital corrects one.
-- linkage failure suspected: there is a primary for review (settled_candidates).
-- perhaps before the register began: a component taken out had left the market before the first primary of that joint in
--     this register; or all had been on the market by then and the revision is within ten years of it; or none is known
--     in the catalogue, the patient had no operation here before, and the revision is within two years of it.
-- primary elsewhere or not submitted: a component taken out came on the market since, so the primary belongs here.
-- unknown: everything else.
--
-- creates:  settled_links

create or replace temp table settled_links as
with

began as (
    select joint, min(operation_date) as began_on from standing_operations where kind = 'primary' group by joint
),

unlinked as (
    select version_no, patient_id, joint, operation_date
    from revisions_and_primaries
    where primary_operation_id is null
),

taken_out as (
    select
        c.version_no,
        max(k.introduced_date) as newest,
        min(w.withdrawn_date) as first_withdrawn,
        bool_and(k.introduced_date is not null) as all_are_dated
    from components as c
    semi join unlinked as r on r.version_no = c.version_no
    left join known_entries as k on k.catalogue_no = c.catalogue_no
    left join known_catalogue as w on w.catalogue_no = c.catalogue_no
    where c.action = 'removed'
    group by c.version_no
),

seen_before as (
    select u.version_no
    from unlinked as u
    join standing_operations as o on o.patient_id = u.patient_id and o.operation_date < u.operation_date
    group by u.version_no
),

candidates as (
    select
        operation_id, primary_operation_id,
        arg_min(method, row(confidence, method)) as method,
        min(confidence) as confidence  -- likely before possible
    from settled_candidates
    where not is_held
    group by all
),

contested as (
    select x.operation_id, max(p.known_from) as known_from
    from contested_links as x
    join known_operations as p on p.version_no = x.primary_no
    group by x.operation_id
),

decided as (
    select distinct
        d.*, o.known_from as primary_known_from, coalesce(c.method, 'by hand') as method,
        coalesce(c.confidence, 'possible') as confidence
    from link_decisions as d
    join revisions_and_primaries as r on r.operation_id = d.operation_id
    join standing_operations as o
        on o.operation_id = d.primary_operation_id and o.kind = 'primary' and o.joint = r.joint
        and o.operation_date <= r.operation_date
    left join candidates as c
        on c.operation_id = d.operation_id and c.primary_operation_id = d.primary_operation_id
    left join contested as x on x.operation_id = d.operation_id
    where d.decision = 'accepted'
        and (x.operation_id is not null or d.primary_operation_id is distinct from r.primary_operation_id)
),

undone as (
    select distinct d.*
    from link_decisions as d
    left join revisions_and_primaries as r on r.operation_id = d.operation_id
    where d.decision = 'undone' and (r.primary_operation_id is null or r.primary_operation_id = d.primary_operation_id)
),

joined as (
    select distinct
        r.operation_id, r.version_no, r.joint, r.operation_date, r.held_primary_id,
        r.primary_operation_id, r.known_from, r.primary_known_from
    from revisions_and_primaries as r
    semi join standing_operations as o on o.version_no = r.version_no
)

select
    r.operation_id,
    case
        when d.operation_id is not null then d.primary_operation_id
        when u.operation_id is null and x.operation_id is null then r.primary_operation_id
    end as primary_operation_id,
    case
        when d.operation_id is not null then d.method
        when u.operation_id is null and x.operation_id is null and r.primary_operation_id is not null then 'same patient, joint and side'
        else 'not linked'
    end as method,
    case
        when d.operation_id is not null then d.confidence
        when u.operation_id is null and x.operation_id is null and r.primary_operation_id is not null then 'certain'
    end as confidence,
    case
        when d.operation_id is not null then null
        when u.operation_id is not null then 'link undone'
        when x.operation_id is not null then 'primary contested'
        when r.primary_operation_id is not null then null
        when r.held_primary_id is not null then 'primary held back'
        when c.operation_id is not null then 'linkage failure suspected'
        when t.first_withdrawn < b.began_on
            or (t.all_are_dated and t.newest < b.began_on and r.operation_date < b.began_on + interval 10 year)
            or (t.newest is null and s.version_no is null and r.operation_date < b.began_on + interval 2 year)
            then 'perhaps before the register began'
        when t.newest >= b.began_on then 'primary elsewhere or not submitted'
        else 'unknown'
    end as cause,
    coalesce(d.decided_by, u.decided_by, 'rule') as decided_by,
    greatest(
        r.known_from,
        case
            when d.operation_id is not null then greatest(d.decided_on, d.primary_known_from)
            when u.operation_id is not null then greatest(u.decided_on, r.primary_known_from)
            else coalesce(x.known_from, r.primary_known_from)
        end
    ) as decided_on
from joined as r
left join began as b on b.joint = r.joint
left join taken_out as t on t.version_no = r.version_no
left join seen_before as s on s.version_no = r.version_no
left join (select distinct operation_id from candidates) as c on c.operation_id = r.operation_id
left join contested as x on x.operation_id = r.operation_id
left join decided as d on d.operation_id = r.operation_id
left join undone as u on u.operation_id = r.operation_id
