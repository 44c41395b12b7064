-- What was known then goes to the cut as it was known. The largest tables stand in the order of the store: sorting them
-- would take longer than writing them.
--
-- writes:   patients, operations, components, revision_reasons, deaths, losses, catalogue, catalogue_pairs, hospitals, surgeons, hospital_systems, admin_counts, submissions, submission_files, held_rows, noted_rows, rules, links, link_candidates

insert into cut.patients by name select * from cut_patients order by patient_no;

insert into cut.operations by name
with recorded as (
    -- The database makes a word its number many times as fast where it reads it as after a join.
    select
        * exclude (submission_no, known_to, repeats)
        replace (
            sex::cut.sex_words as sex,
            joint::cut.joint_words as joint,
            side::cut.side_words as side,
            kind::cut.kind_words as kind,
            stage::cut.stage_words as stage,
            class::cut.class_words as class,
            compartment::cut.compartment_words as compartment,
            bearing::cut.bearing_words as bearing,
            constraint_design::cut.constraint_words as constraint_design,
            fixation::cut.fixation_words as fixation,
            patella::cut.patella_words as patella,
            approach::cut.approach_words as approach,
            technology::cut.technology_words as technology,
            prophylaxis::cut.prophylaxis_words as prophylaxis,
            diagnosis::cut.diagnosis_words as diagnosis,
            asa::cut.asa_words as asa,
            action::cut.action_words as action
        )
    from registry.operations
)
select
    v.* exclude (version_no),
    s.submission_id,
    coalesce(f.first_received, v.known_from) as first_received
from cut_operations as o
join recorded as v on v.version_no = o.version_no
join registry.submissions as s on s.submission_no = o.submission_no
left join (
    select r.operation_id, min(r.known_from) as first_received
    from registry.operations as r
    semi join versions_operations as w on w.version_no = r.version_no
    group by r.operation_id
) as f on f.operation_id = o.operation_id;

insert into cut.components by name
select o.operation_id, c.line_no, c.role, c.action, c.catalogue_no, c.lot, c.serial, c.expiry_date, c.udi
from registry.components as c
join cut_operations as o on o.version_no = c.version_no
anti join findings as f
    on f.table_name = 'components' and f.severity = 'hold'
    and f.place = o.submission_no::bigint * 1000000000 + c.row_no;

insert into cut.revision_reasons by name
select o.operation_id, r.line_no, r.reason, r.leads, r.note <> '' as has_note
from registry.revision_reasons as r
join cut_operations as o on o.version_no = r.version_no;

insert into cut.deaths by name
select patient_id, death_date, known_from from standing_deaths where death_date <= $through order by patient_id;

insert into cut.losses by name
select patient_id, loss_date, loss, known_from from known_losses where loss_date <= $through order by patient_id;

insert into cut.catalogue by name
select * exclude (version_no, submission_no, row_no) from known_catalogue order by catalogue_no;

insert into cut.catalogue_pairs by name
select * exclude (version_no, submission_no, row_no) from known_catalogue_pairs order by implant, paired_implant;

insert into cut.hospitals by name
select * exclude (version_no, submission_no, row_no) from known_hospitals order by hospital_id;

insert into cut.surgeons by name
select * exclude (version_no, submission_no, row_no) from known_surgeons order by surgeon_id;

insert into cut.hospital_systems by name
select * exclude (version_no, submission_no, row_no)
from known_hospital_systems
order by hospital_id, technology_system;

insert into cut.admin_counts by name
select * exclude (version_no, submission_no, row_no)
from known_admin_counts
where month <= $through
order by hospital_id, joint, kind, month;

insert into cut.submissions by name
select * exclude (submission_no) from registry.submissions where received_date <= $as_of order by submission_id;

insert into cut.submission_files by name
select s.submission_id, f.* exclude (submission_no)
from settled_files as f
join registry.submissions as s on s.submission_no = f.submission_no
order by s.submission_id, f.table_name;

insert into cut.held_rows by name
select * from settled_findings where severity in ('reject', 'hold') order by submission_id, table_name, row_no, rule;

insert into cut.noted_rows by name
select * from settled_findings where severity not in ('reject', 'hold') order by submission_id, table_name, row_no, rule;

insert into cut.rules by name
select * from registry.rules
where in_force_from <= $as_of and $as_of < coalesce(in_force_to, date '9999-12-31')
order by relation, rule, version;

insert into cut.links by name
select l.*
from settled_links as l
join cut_operations as o on o.operation_id = l.operation_id
order by l.operation_id;

insert into cut.link_candidates by name
select c.*, o.hospital_id, o.joint, o.operation_date
from settled_candidates as c
join known_operations as o on o.operation_id = c.operation_id
where o.operation_date <= $through
order by c.operation_id, c.primary_operation_id, c.method
