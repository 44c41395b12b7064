-- Each operation with what its hospital, its surgeon, the catalogue and the patient's other
-- operations say about it.
--
-- creates:  operation_facts

create or replace temp view operation_facts as
with

unlike as (
    select patient_id
    from standing_operations
    group by patient_id
    having min(birth_year) <> max(birth_year) or min(sex) <> max(sex)
),

firsts as (
    select
        o.patient_id,
        arg_min(o.birth_year, row(o.operation_date, o.operation_id)) as first_birth_year,
        arg_min(o.sex, row(o.operation_date, o.operation_id)) filter (where o.sex <> 'not recorded') as first_sex
    from standing_operations as o
    semi join unlike as u on u.patient_id = o.patient_id
    group by o.patient_id
)

select
    o.version_no as place,
    o.operation_id as record_id,
    o.version_no,
    o.known_from,
    o.operation_date,
    o.hospital_id,
    o.surgeon_id,
    o.kind,
    o.stage,
    o.class,
    o.birth_year,
    o.sex,
    v.bearing,
    v.constraint_design,
    h.hospital_id is not null as hospital_is_known,
    h.active_from as hospital_from,
    h.active_to as hospital_to,
    s.surgeon_id is not null as surgeon_is_known,
    s.active_from as surgeon_from,
    s.active_to as surgeon_to,
    i.* exclude (version_no),
    coalesce(r.reasons, 0) as reasons,
    coalesce(r.leading_reasons, 0) as leading_reasons,
    f.first_birth_year,
    f.first_sex
from known_operations as o
join operations as v on v.version_no = o.version_no
left join known_hospitals as h on h.hospital_id = o.hospital_id
left join known_surgeons as s on s.surgeon_id = o.surgeon_id
left join primary_implants as i on i.version_no = o.version_no
left join reason_counts as r on r.version_no = o.version_no
left join firsts as f on f.patient_id = o.patient_id
