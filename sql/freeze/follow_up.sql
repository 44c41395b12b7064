-- Follow-up of each joint: to the earliest of revision, death, loss and the end of what is
-- complete. On one day a revision counts before a death, and a death before a loss. What ended it or
-- would have, had the joint not been revised, is kept beside: some endpoints go on past a revision.
--
-- reads:    component_life
-- writes:   follow_up

insert into cut.follow_up by name
with

recorded as (
    -- Words become numbers before they are joined and sorted.
    select
        version_no, hospital_id, surgeon_id, bmi, bearing, constraint_design,
        compartment::cut.compartment_words as compartment,
        fixation::cut.fixation_words as fixation,
        patella::cut.patella_words as patella,
        approach::cut.approach_words as approach,
        technology::cut.technology_words as technology,
        prophylaxis::cut.prophylaxis_words as prophylaxis,
        diagnosis::cut.diagnosis_words as diagnosis,
        asa::cut.asa_words as asa
    from registry.operations
),

last_death as (
    select least($through, max(complete_through)) as date from complete_through where kind = 'deaths'
),

ends as (
    select
        j.*,
        e.revision_date,
        d.death_date,
        case when d.death_date <= j.limit_date then d.death_date end as counted_death,
        case when l.loss_date <= j.limit_date then l.loss_date end as counted_loss,
        least(j.limit_date, e.revision_date, d.death_date, l.loss_date) as end_date,
        least(j.limit_date, d.death_date, l.loss_date) as followed_date
    from joints as j
    left join episodes as e on e.joint_no = j.joint_no and e.sequence = 1
    left join standing_deaths as d on d.patient_id = j.patient_id
    left join known_losses as l on l.patient_id = j.patient_id
),

put_in as (
    select operation_id, bit_or((1 << enum_code(role)::integer)::uinteger) as roles
    from cut.component_life
    where in_day = 0
    group by operation_id
)

select
    n.joint_no,
    n.joint_id,
    p.patient_no,
    n.patient_id,
    n.joint,
    n.side,
    n.class,
    case when n.class = 'partial' then o.compartment else 'not applicable' end as compartment,
    case
        when n.joint = 'shoulder' or n.class in ('hemi', 'patellofemoral') then 'not applicable'
        else coalesce(f.catalogue_bearing, o.bearing)
    end as bearing,
    case
        when n.joint = 'knee' and n.class = 'total' then coalesce(f.catalogue_constraint, o.constraint_design)
        else 'not applicable'
    end as constraint_design,
    case
        when n.joint = 'hip' and n.class <> 'hemi' then coalesce(b.couple, 'not recorded')
        else 'not applicable'
    end as bearing_couple,
    case when n.class <> 'hemi' then f.head_size end as head_size,
    case when n.joint = 'shoulder' then coalesce(f.humeral_design, 'not recorded') else 'not applicable' end
        as humeral_design,
    coalesce(f.construct, 'not recorded') as construct,
    o.fixation,
    case when n.joint = 'knee' then o.patella else 'not applicable' end as patella,
    o.approach,
    o.technology,
    o.prophylaxis,
    o.diagnosis,
    p.sex,
    year(n.operation_date) - p.birth_year as age,
    o.asa,
    o.bmi,
    o.hospital_id,
    h.region,
    o.surgeon_id,
    v.volume as surgeon_volume,
    n.operation_date as implanted_date,
    year(n.operation_date) as implanted_year,
    n.operation_id,
    n.end_date - n.operation_date as days,
    case
        when n.revision_date = n.end_date then 'revised'
        when n.counted_death = n.end_date then 'died'
        when n.counted_loss = n.end_date then 'lost'
        else 'in place'
    end as ended,
    n.followed_date - n.operation_date as followed_days,
    case
        when n.counted_death = n.followed_date then 'died'
        when n.counted_loss = n.followed_date then 'lost'
        else 'in place'
    end as followed_end,
    coalesce(i.roles, 0) as primary_roles,
    case when n.death_date <= coalesce(t.date, $through) then n.death_date - n.operation_date end as died_day,
    e.reason_group,
    e.reason,
    e.action,
    e.stem_used,
    e.augment_used,
    e.graft_used,
    e.revision_date,
    e.operation_id as revision_operation_id
from ends as n
join cut_patients as p on p.patient_id = n.patient_id
join recorded as o on o.version_no = n.version_no
left join primary_implants as f on f.version_no = n.version_no
join known_hospitals as h on h.hospital_id = o.hospital_id
left join bearing_couples as b on b.head_material = f.head_material and b.liner_material = f.liner_material
left join surgeon_volumes as v on v.version_no = n.version_no
left join put_in as i on i.operation_id = n.operation_id
left join episodes as e on e.joint_no = n.joint_no and e.sequence = 1 and n.revision_date = n.end_date
left join last_death as t on true
order by n.joint_no
