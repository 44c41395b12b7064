-- Revisions with the primary they could belong to, by patient, joint and side. Where several
-- primaries stood on one side, rules before have left one.
--
-- creates:  revisions_and_primaries

create or replace temp table revisions_and_primaries as
with

revisions as (
    select
        *,
        row_number() over (partition by patient_id, joint, side order by operation_date, operation_id) - 1
            as earlier_revisions
    from standing_operations
    where kind = 'revision'
),

first_stages as (
    select s.version_no, count(*) as first_stages
    from revisions as s
    join revisions as f on f.patient_id = s.patient_id and f.joint = s.joint and f.side = s.side
    where s.stage = 'second of two' and f.stage = 'first of two'
        and s.operation_date > f.operation_date and s.operation_date <= f.operation_date + interval 12 month
    group by all
),

later_stages as (
    select f.version_no, count(*) as later_stages
    from revisions as f
    join revisions as s on s.patient_id = f.patient_id and s.joint = f.joint and s.side = f.side
    where f.stage = 'first of two' and s.operation_date > f.operation_date
    group by all
),

primaries as (
    select o.*
    from standing_operations as o
    semi join revisions as r on r.patient_id = o.patient_id
    where o.kind = 'primary'
),

held_primaries as (
    select o.patient_id, o.joint, o.side, min(o.operation_id) as operation_id, min(o.known_from) as known_from
    from known_operations as o
    semi join revisions as r on r.patient_id = o.patient_id
    anti join primaries as p on p.version_no = o.version_no
    where o.kind = 'primary'
    group by all
)

select
    r.version_no as place,
    r.operation_id as record_id,
    r.*,
    case when p.operation_date <= r.operation_date then p.operation_id end as primary_operation_id,
    case when p.operation_date <= r.operation_date then p.operation_date end as primary_date,
    case when p.operation_date <= r.operation_date then p.known_from end as primary_known_from,
    case when p.operation_date > r.operation_date then p.operation_id end as later_primary_id,
    h.operation_id as held_primary_id,
    o.operation_id as other_side_id,
    f.class as primary_class,
    coalesce(i.catalogue_bearing, f.bearing) as primary_bearing,
    coalesce(c.has_progression, false) as has_progression,
    coalesce(c.has_dislocation, false) as has_dislocation,
    coalesce(s.first_stages, 0) as first_stages,
    coalesce(l.later_stages, 0) as later_stages,
    $as_of as today,
    d.death_date,
    v.action,
    v.fixation,
    c.reason_group as leading_group
from revisions as r
left join primaries as p on p.patient_id = r.patient_id and p.joint = r.joint and p.side = r.side
left join held_primaries as h on h.patient_id = r.patient_id and h.joint = r.joint and h.side = r.side
left join primaries as o
    on o.patient_id = r.patient_id and o.joint = r.joint and o.side <> r.side
    and o.operation_date <= r.operation_date
left join operations as f on f.version_no = p.version_no and p.operation_date <= r.operation_date
left join primary_implants as i on i.version_no = f.version_no
left join reason_counts as c on c.version_no = r.version_no
left join first_stages as s on s.version_no = r.version_no
left join later_stages as l on l.version_no = r.version_no
left join standing_deaths as d on d.patient_id = r.patient_id
join operations as v on v.version_no = r.version_no
