-- Revisions whose joint has a primary that counts and another that is held, neither later than the revision: either may be
-- the true one, written down with a wrong side or patient beside it. What the components say can settle it:
--
-- a held one that takes components out and gives reasons for it is a revision sent as a primary, and no rival;
-- a held one of which all sided components fit the other side is of the other side, where those of the counted one fit;
-- lot or serial number of a component taken out, of the same catalogue number, was put in at the counted primary and at
--     none of the held;
-- the first revision known takes out only catalogue numbers that went in at the counted primary, and one of them in a
--     role in which each of the held put in others;
-- an earlier revision of the joint was settled by components, and this one takes out nothing that went in at a held
--     primary and at no other operation of the joint.
--
-- Everything else stays contested.
--
-- creates:  contested_links

create or replace temp table contested_links as
with

rivals as (
    select distinct
        r.version_no, r.operation_id, r.patient_id, r.joint, r.side, r.operation_date,
        p.version_no as primary_no, p.operation_id as primary_operation_id, p.version_no = c.version_no as is_counted
    from revisions_and_primaries as r
    join standing_operations as c on c.operation_id = r.primary_operation_id
    join known_operations as p
        on p.patient_id = r.patient_id and p.joint = r.joint and p.side = r.side
        and p.kind = 'primary' and p.operation_date <= r.operation_date
    left join findings as f on f.place = p.version_no and f.table_name = 'operations' and f.severity = 'hold'
    where r.held_primary_id is not null and (p.version_no = c.version_no or f.place is not null)
),

-- Every other revision that is known of these joints, held ones included, and no later.
earlier as (
    select r.version_no, k.version_no as earlier_no
    from (select distinct version_no, patient_id, joint, side, operation_date from rivals) as r
    join known_operations as k
        on k.patient_id = r.patient_id and k.joint = r.joint and k.side = r.side
        and k.kind = 'revision' and k.operation_date <= r.operation_date and k.version_no <> r.version_no
),

involved as (
    select version_no from rivals
    union
    select primary_no from rivals
    union
    select earlier_no from earlier
),

parts as materialized (
    select c.version_no, c.role, c.action, c.catalogue_no, c.lot, c.serial, k.side as made_for
    from components as c
    semi join involved as i on i.version_no = c.version_no
    left join known_catalogue as k on k.catalogue_no = c.catalogue_no
    where c.catalogue_no <> ''
),

sent_as_primary as (
    select p.version_no
    from parts as p
    semi join revision_reasons as r on r.version_no = p.version_no
    where p.action = 'removed'
    group by p.version_no
),

sided as (
    select
        r.primary_no,
        bool_or(p.made_for = r.side) as fits,
        bool_or(p.made_for <> r.side) as misfits
    from (select distinct primary_no, side from rivals) as r
    join parts as p on p.version_no = r.primary_no and p.action = 'implanted' and p.made_for in ('left', 'right')
    group by r.primary_no
),

true_rivals as (
    select r.*
    from rivals as r
    join rivals as c on c.version_no = r.version_no and c.is_counted
    left join sent_as_primary as s on s.version_no = r.primary_no and not r.is_counted
    left join sided as o on o.primary_no = r.primary_no and not r.is_counted
    left join sided as f on f.primary_no = c.primary_no
    where s.version_no is null
        and not (coalesce(o.misfits and not o.fits, false) and coalesce(f.fits and not f.misfits, false))
),

crowded as (
    select version_no, count(*) as held from true_rivals where not is_counted group by version_no
),

taken_out as (
    select p.*
    from parts as p
    semi join crowded as r on r.version_no = p.version_no
    where p.action = 'removed'
),

shared as (
    select
        r.version_no, r.primary_no,
        coalesce(bool_or((t.lot = i.lot and t.lot <> '') or (t.serial = i.serial and t.serial <> '')), false) as is_proof
    from true_rivals as r
    join taken_out as t on t.version_no = r.version_no
    join parts as i on i.version_no = r.primary_no and i.action = 'implanted' and i.catalogue_no = t.catalogue_no
    group by all
),

-- Of each component taken out: how it stands to what went in at each primary.
compared as (
    select
        r.version_no, t.role, t.catalogue_no, r.is_counted,
        bool_or(i.catalogue_no = t.catalogue_no) as went_in,
        bool_or(i.role = t.role) as has_role
    from true_rivals as r
    join taken_out as t on t.version_no = r.version_no
    join parts as i on i.version_no = r.primary_no and i.action = 'implanted'
    group by r.version_no, r.primary_no, r.is_counted, t.role, t.catalogue_no
),

-- Where a primary has no component at all its lines are missing here, and the counts below fall short.
of_component as (
    select
        version_no, role, catalogue_no,
        bool_or(is_counted and went_in) as went_in_at_counted,
        bool_or(not is_counted and went_in) as went_in_at_held,
        count(*) filter (where not is_counted and has_role and not went_in) as held_with_others
    from compared
    group by all
),

told_by_numbers as (
    select o.version_no
    from of_component as o
    join crowded as c on c.version_no = o.version_no
    anti join earlier as e on e.version_no = o.version_no
    group by o.version_no
    having bool_and(o.went_in_at_counted) and bool_or(o.held_with_others = c.held)
),

weighed as (
    select
        r.*,
        s.version_no is not null as same_component,
        bool_or(r.is_counted and coalesce(s.is_proof, false)) over same as fits_counted,
        bool_or(not r.is_counted and coalesce(s.is_proof, false)) over same as fits_held,
        n.version_no is not null as is_told
    from true_rivals as r
    semi join crowded as c on c.version_no = r.version_no
    left join shared as s on s.version_no = r.version_no and s.primary_no = r.primary_no
    left join told_by_numbers as n on n.version_no = r.version_no
    window same as (partition by r.version_no)
),

settled as (
    select distinct version_no from weighed where (fits_counted and not fits_held) or (is_told and not fits_held)
),

against as (
    select o.version_no
    from of_component as o
    left join (
        select e.version_no, p.catalogue_no
        from earlier as e
        join parts as p on p.version_no = e.earlier_no and p.action = 'implanted'
    ) as i on i.version_no = o.version_no and i.catalogue_no = o.catalogue_no
    where o.went_in_at_held and not o.went_in_at_counted and i.version_no is null
    group by o.version_no
),

settled_since as (
    select e.version_no
    from earlier as e
    semi join settled as s on s.version_no = e.earlier_no
    anti join against as a on a.version_no = e.version_no
    anti join (select version_no from weighed where fits_held) as h on h.version_no = e.version_no
    group by e.version_no
)

select w.version_no, w.operation_id, w.primary_no, w.primary_operation_id, w.is_counted, w.same_component
from weighed as w
anti join settled as s on s.version_no = w.version_no
anti join settled_since as l on l.version_no = w.version_no
