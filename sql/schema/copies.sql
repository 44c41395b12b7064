-- The tables a data cut copies from the store: what was known then of the time up to the
-- through-date, by the newest version of each record. Types are those of sql/schema/cut.sql.
--
-- creates:  patients, operations, components, revision_reasons, deaths, losses, catalogue, catalogue_pairs, hospitals, surgeons, hospital_systems, admin_counts, submissions, submission_files, held_rows, noted_rows, links, link_candidates, corrections, rules, unit_findings

create table patients (
    patient_no integer not null,
    patient_id varchar not null,
    birth_year smallint not null,
    sex        sex_words not null
);
comment on table patients is 'One row per patient with an operation in this cut.';
comment on column patients.patient_no is 'dense number of the patient in this cut, from 0';
comment on column patients.patient_id is 'pseudonym of the patient';
comment on column patients.birth_year is 'year of birth, from the first operation';
comment on column patients.sex is 'sex, from the first operation that records it';

create table operations (
    operation_id      varchar not null,
    patient_id        varchar not null,
    birth_year        smallint not null,
    sex               sex_words not null,
    joint             joint_words not null,
    side              side_words not null,
    operation_date    date not null,
    hospital_id       hospital_codes not null,
    surgeon_id        surgeon_codes not null,
    kind              kind_words not null,
    stage             stage_words,
    class             class_words,
    compartment       compartment_words,
    bearing           bearing_words,
    constraint_design constraint_words,
    fixation          fixation_words,
    patella           patella_words,
    approach          approach_words,
    technology        technology_words,
    prophylaxis       prophylaxis_words,
    diagnosis         diagnosis_words,
    asa               asa_words,
    bmi               decimal(4, 1),
    height_cm         decimal(6, 2),
    weight_kg         decimal(6, 2),
    icd10             varchar,
    admission_date    date,
    discharge_date    date,
    technology_system varchar,
    action            action_words,
    stem_used         boolean,
    augment_used      boolean,
    graft_used        boolean,
    submission_id     varchar not null,
    row_no            integer not null,
    known_from        date not null,
    first_received    date not null
);
comment on table operations is 'One row per operation that counts, as known then: primaries and revisions alike.';
comment on column operations.operation_id is 'number of the operation: the hospital''s code, a hyphen and its own number';
comment on column operations.patient_id is 'pseudonym of the patient';
comment on column operations.birth_year is 'year of birth';
comment on column operations.sex is 'female, male or not recorded';
comment on column operations.joint is 'knee, hip or shoulder';
comment on column operations.side is 'left or right';
comment on column operations.operation_date is 'date of the operation';
comment on column operations.hospital_id is 'hospital where it was done, which is the sender';
comment on column operations.surgeon_id is 'responsible surgeon, or not recorded';
comment on column operations.kind is 'primary or revision';
comment on column operations.stage is 'single, first of two or second of two; null on a primary';
comment on column operations.class is 'class of the joint replacement; null where a revision does not say';
comment on column operations.compartment is 'compartment of a partial knee, else not applicable';
comment on column operations.bearing is 'mobility of the bearing of a knee or a hip, as the form says; else not applicable';
comment on column operations.constraint_design is 'constraint design of a total knee, as the form says; else not applicable';
comment on column operations.fixation is 'how the components are held to bone';
comment on column operations.patella is 'whether the patella was resurfaced; not applicable off knees';
comment on column operations.approach is 'surgical approach';
comment on column operations.technology is 'technology assistance';
comment on column operations.prophylaxis is 'chemical thromboprophylaxis';
comment on column operations.diagnosis is 'diagnosis';
comment on column operations.asa is 'ASA physical status class';
comment on column operations.bmi is 'body mass index, kg per square metre; null where not recorded';
comment on column operations.height_cm is 'height, cm, as the form says; null where not recorded';
comment on column operations.weight_kg is 'weight, kg, as the form says; null where not recorded';
comment on column operations.icd10 is 'ICD-10 code of the diagnosis as submitted; null where not recorded';
comment on column operations.admission_date is 'day the patient came to hospital; null where not recorded';
comment on column operations.discharge_date is 'day the patient left hospital; null where not recorded';
comment on column operations.technology_system is 'code of the robot or navigation system used; null where not recorded';
comment on column operations.action is 'what a revision did; null on a primary';
comment on column operations.stem_used is 'a stem was used; null where the form is silent';
comment on column operations.augment_used is 'an augment was used; null where the form is silent';
comment on column operations.graft_used is 'bone graft was used; null where the form is silent';
comment on column operations.submission_id is 'the submission that this version came in';
comment on column operations.row_no is 'row in its file, 1 for the first under the header';
comment on column operations.known_from is 'date from which this version was known';
comment on column operations.first_received is 'date on which a readable version of it was first received';

create table components (
    operation_id varchar not null,
    line_no      smallint not null,
    role         role_words not null,
    action       component_action_words not null,
    catalogue_no varchar not null,
    lot          varchar not null,
    serial       varchar not null,
    expiry_date  date,
    udi          varchar not null
);
comment on table components is 'One row per component put in or taken out at an operation of this cut; components that are held are left out.';
comment on column components.operation_id is 'operation record it belongs to';
comment on column components.line_no is 'line in the operation';
comment on column components.role is 'what the component is in the joint';
comment on column components.action is 'implanted or removed';
comment on column components.catalogue_no is 'catalogue number as submitted';
comment on column components.lot is 'lot number as submitted; empty where not recorded';
comment on column components.serial is 'serial number as submitted; empty where not recorded';
comment on column components.expiry_date is 'last day on which it may be used; null where not recorded';
comment on column components.udi is 'device label as submitted, scanned or in brackets; empty where not recorded';

create table revision_reasons (
    operation_id varchar not null,
    line_no      smallint not null,
    reason       reason_words not null,
    leads        boolean,
    has_note     boolean not null
);
comment on table revision_reasons is 'One row per reason for a revision of this cut.';
comment on column revision_reasons.operation_id is 'operation record it belongs to';
comment on column revision_reasons.line_no is 'line in the operation';
comment on column revision_reasons.reason is 'reason in detail';
comment on column revision_reasons.leads is 'marked as the leading reason; null where the form is silent';
comment on column revision_reasons.has_note is 'the form says something beside it, which is kept in the store alone';

create table hospital_systems (
    hospital_id       varchar not null,
    technology_system varchar not null,
    active_from       date,
    active_to         date,
    known_from        date not null
);
comment on table hospital_systems is 'One row per robot or navigation system of a hospital, as known then.';
comment on column hospital_systems.hospital_id is 'code of the hospital';
comment on column hospital_systems.technology_system is 'code of the robot or navigation system';
comment on column hospital_systems.active_from is 'first day of use; null where not known';
comment on column hospital_systems.active_to is 'last day of use; null while in use';
comment on column hospital_systems.known_from is 'date from which this version was known';

create table deaths (
    patient_id varchar not null,
    death_date date not null,
    known_from date not null
);
comment on table deaths is 'One row per death known then, up to the through-date.';
comment on column deaths.patient_id is 'pseudonym of the patient';
comment on column deaths.death_date is 'date of death';
comment on column deaths.known_from is 'date from which this version was known';

create table losses (
    patient_id varchar not null,
    loss_date  date not null,
    loss       loss_words not null,
    known_from date not null
);
comment on table losses is 'One row per patient known then to have left the register, up to the through-date.';
comment on column losses.patient_id is 'pseudonym of the patient';
comment on column losses.loss_date is 'last day on which the patient could be followed';
comment on column losses.loss is 'emigrated or opted out';
comment on column losses.known_from is 'date from which this version was known';

create table catalogue (
    catalogue_no      varchar not null,
    gtin              varchar not null,
    maker             varchar not null,
    implant           varchar not null,
    role              role_words not null,
    joint             joint_words not null,
    class             class_words,
    bearing           bearing_words,
    constraint_design constraint_words,
    fixation          fixation_words,
    material          material_words,
    size              varchar not null,
    side              side_words,
    introduced_date   date,
    withdrawn_date    date,
    known_from        date not null
);
comment on table catalogue is 'One row per entry of the implant catalogue as known then.';
comment on column catalogue.catalogue_no is 'catalogue number: implant, size and variant';
comment on column catalogue.gtin is 'device identifier, 14 digits of GS1; empty where not known';
comment on column catalogue.maker is 'code of the maker';
comment on column catalogue.implant is 'implant code: one device family in one role';
comment on column catalogue.role is 'what the component is in the joint';
comment on column catalogue.joint is 'joint it is made for';
comment on column catalogue.class is 'class it is made for; null where it serves several';
comment on column catalogue.bearing is 'mobility of the bearing; not recorded where the component does not decide it';
comment on column catalogue.constraint_design is 'constraint design; not recorded or not applicable where the component does not decide it';
comment on column catalogue.fixation is 'fixation it is made for; not recorded where it does not matter';
comment on column catalogue.material is 'material of the surface that slides; not recorded where it does not matter';
comment on column catalogue.size is 'size';
comment on column catalogue.side is 'side it fits; null where it fits both';
comment on column catalogue.introduced_date is 'first day on the market; null where not known';
comment on column catalogue.withdrawn_date is 'last day on the market; null while sold';
comment on column catalogue.known_from is 'date from which this version was known';

create table catalogue_pairs (
    implant        varchar not null,
    paired_implant varchar not null,
    size_steps     smallint not null,
    known_from     date not null
);
comment on table catalogue_pairs is 'One row per pair of implants that may be combined, as known then.';
comment on column catalogue_pairs.implant is 'implant code: one device family in one role';
comment on column catalogue_pairs.paired_implant is 'implant that may be combined with it';
comment on column catalogue_pairs.size_steps is 'sizes that the two may lie apart; 0 where they must be the same';
comment on column catalogue_pairs.known_from is 'date from which this version was known';

create table hospitals (
    hospital_id varchar not null,
    region      varchar not null,
    active_from date,
    active_to   date,
    known_from  date not null
);
comment on table hospitals is 'One row per hospital as known then.';
comment on column hospitals.hospital_id is 'code of the hospital';
comment on column hospitals.region is 'code of its region, or not recorded';
comment on column hospitals.active_from is 'first day on the register; null where it was there from the start';
comment on column hospitals.active_to is 'last day on the register; null while it takes part';
comment on column hospitals.known_from is 'date from which this version was known';

create table surgeons (
    surgeon_id  varchar not null,
    active_from date,
    active_to   date,
    known_from  date not null
);
comment on table surgeons is 'One row per surgeon as known then.';
comment on column surgeons.surgeon_id is 'code of the surgeon';
comment on column surgeons.active_from is 'first day on the register; null where not known';
comment on column surgeons.active_to is 'last day on the register; null while in practice';
comment on column surgeons.known_from is 'date from which this version was known';

create table admin_counts (
    hospital_id varchar not null,
    joint       joint_words not null,
    kind        kind_words not null,
    month       date not null,
    operations  integer not null,
    known_from  date not null
);
comment on table admin_counts is 'One row per hospital, joint, kind and month counted by the hospital''s administrative system, as known then.';
comment on column admin_counts.hospital_id is 'code of the hospital';
comment on column admin_counts.joint is 'joint';
comment on column admin_counts.kind is 'primary or revision';
comment on column admin_counts.month is 'first day of the month';
comment on column admin_counts.operations is 'operations in that month by the administrative system';
comment on column admin_counts.known_from is 'date from which this version was known';

create table submissions (
    submission_id    varchar not null,
    kind             varchar not null,
    sender           varchar not null,
    sequence         integer not null,
    received_date    date not null,
    complete_through date not null,
    schema_version   varchar not null,
    reason_for_correction varchar
);
comment on table submissions is 'One row per submission received by then: what its envelope says.';
comment on column submissions.submission_id is 'the sender''s own name for it, unique in the store';
comment on column submissions.kind is 'operations, catalogue, units, deaths, losses or admin_counts';
comment on column submissions.sender is 'hospital, or office for the feeds that no hospital sends';
comment on column submissions.sequence is 'number in the order of its sender and kind; of two versions of a record the higher one wins';
comment on column submissions.received_date is 'date received; its records are known from then';
comment on column submissions.complete_through is 'date up to which the sender believes the feed to be complete';
comment on column submissions.schema_version is 'version of the file description it was written by';
comment on column submissions.reason_for_correction is 'why the sender corrects what it had sent, where its envelope says so';

create table submission_files (
    submission_id varchar not null,
    table_name    varchar not null,
    sha256        varchar not null,
    declared      integer not null,
    received      integer not null,
    accepted      integer not null,
    held          integer not null,
    rejected      integer not null,
    known_already integer not null
);
comment on table submission_files is 'One row per file received by then: received = accepted + held + rejected + known already.';
comment on column submission_files.submission_id is 'the submission, as in submissions';
comment on column submission_files.table_name is 'name of the file without its ending';
comment on column submission_files.sha256 is 'SHA-256 of the file''s bytes; of Parquet, of the CSV that it stands for; where patients came under numbers, of its rows under pseudonyms';
comment on column submission_files.declared is 'rows that the envelope declares';
comment on column submission_files.received is 'rows read';
comment on column submission_files.accepted is 'rows counted, or counted until a correction replaced them';
comment on column submission_files.held is 'rows kept back until the hospital corrects them, or held until a correction replaced them';
comment on column submission_files.rejected is 'rows not taken in';
comment on column submission_files.known_already is 'rows that say what an earlier row had said';

create table held_rows (
    submission_id varchar not null,
    hospital_id   varchar not null,
    table_name    varchar not null,
    row_no        integer not null,
    record_id     varchar not null,
    rule          varchar not null,
    rule_version  smallint not null,
    severity      varchar not null,
    value         varchar,
    text          varchar not null
);
comment on table held_rows is 'One row per row and rule that kept it from being counted: held until it is corrected, or rejected. Rows that a later submission had replaced are not listed.';
comment on column held_rows.submission_id is 'the submission it came in';
comment on column held_rows.hospital_id is 'sender of the submission';
comment on column held_rows.table_name is 'name of the file without its ending';
comment on column held_rows.row_no is 'row in its file, 1 for the first under the header';
comment on column held_rows.record_id is 'number of the operation, the patient, the catalogue entry or the unit, as submitted';
comment on column held_rows.rule is 'name of the rule';
comment on column held_rows.rule_version is 'version of the rule';
comment on column held_rows.severity is 'reject or hold';
comment on column held_rows.value is 'what the row said, where the rule shows it';
comment on column held_rows.text is 'what the hospital is told';

create table noted_rows (
    submission_id varchar not null,
    hospital_id   varchar not null,
    table_name    varchar not null,
    row_no        integer not null,
    record_id     varchar not null,
    rule          varchar not null,
    rule_version  smallint not null,
    severity      varchar not null,
    value         varchar,
    text          varchar not null
);
comment on table noted_rows is 'One row per row and rule that did not keep it back: a warning or note on a row that is counted, or a row known already under another number.';
comment on column noted_rows.submission_id is 'the submission it came in';
comment on column noted_rows.hospital_id is 'sender of the submission';
comment on column noted_rows.table_name is 'name of the file without its ending';
comment on column noted_rows.row_no is 'row in its file, 1 for the first under the header';
comment on column noted_rows.record_id is 'number of the operation, the patient, the catalogue entry or the unit, as submitted';
comment on column noted_rows.rule is 'name of the rule';
comment on column noted_rows.rule_version is 'version of the rule';
comment on column noted_rows.severity is 'warn, note or known already';
comment on column noted_rows.value is 'what the row said, where the rule shows it';
comment on column noted_rows.text is 'what the hospital is told';

create table links (
    operation_id         varchar not null,
    primary_operation_id varchar,
    method               varchar not null,
    confidence           varchar,
    cause                varchar,
    decided_by           varchar not null,
    decided_on           date not null
);
comment on table links is 'One row per revision that counts: the primary it belongs to, or why there is none.';
comment on column links.operation_id is 'operation record of the revision';
comment on column links.primary_operation_id is 'operation record of its primary; null where unlinked';
comment on column links.method is 'how it was linked: same patient, joint and side; by decision same serial number, near pseudonym or by hand; or not linked';
comment on column links.confidence is 'certain where patient, joint and side are the same; by decision likely or possible, as link_candidates; null where unlinked';
comment on column links.cause is 'why it is unlinked: link undone, primary contested, primary held back, linkage failure suspected, perhaps before the register began, primary elsewhere or not submitted, or unknown; null where linked';
comment on column links.decided_by is 'rule, or who accepted or undid the link';
comment on column links.decided_on is 'date from which all that decided it was known';

create table corrections (
    record_id     varchar not null,
    hospital_id   varchar not null,
    submission_id varchar not null,
    corrected_on  date not null,
    table_name    varchar not null,
    line_no       smallint,
    field         varchar not null,
    old_value     varchar,
    new_value     varchar,
    reason        varchar,
    is_counted    boolean not null
);
comment on table corrections is 'One row per field of a record, or of a line of an operation, that a later submission changed: what the store knew before and since. A record that was first sent with a fault that kept it from being read is not corrected by being sent well.';
comment on column corrections.record_id is 'operation record; of deaths and losses the pseudonym, of the catalogue its number, of other files what names the unit, the pair or the month';
comment on column corrections.hospital_id is 'who corrected it: the sender';
comment on column corrections.submission_id is 'the submission that it came in';
comment on column corrections.corrected_on is 'date from which the correction was known';
comment on column corrections.table_name is 'name of the file without .csv';
comment on column corrections.line_no is 'line in the operation; null for the operation itself';
comment on column corrections.field is 'column of the file';
comment on column corrections.old_value is 'what it said before, as files write it; null where the cell was empty or there was no such line; notes are never shown';
comment on column corrections.new_value is 'what it has said since';
comment on column corrections.reason is 'why, where the envelope says so';
comment on column corrections.is_counted is 'the operation counts in this cut; so do deaths and losses of its patients, entries of its components, and every unit and month';

create table link_candidates (
    operation_id         varchar not null,
    hospital_id          varchar not null,
    joint                joint_words not null,
    operation_date       date not null,
    primary_operation_id varchar not null,
    method               varchar not null,
    confidence           varchar not null,
    same_side            boolean not null,
    same_sex             boolean not null,
    same_birth_year      boolean not null,
    same_component       boolean not null,
    is_held              boolean not null
);
comment on table link_candidates is 'One row per revision without a primary, primary that it could belong to, and method: for people to review. Revisions whose candidate they accepted stay listed.';
comment on column link_candidates.operation_id is 'operation record of the revision';
comment on column link_candidates.hospital_id is 'hospital of the revision';
comment on column link_candidates.joint is 'joint';
comment on column link_candidates.operation_date is 'date of the revision';
comment on column link_candidates.primary_operation_id is 'operation record of a primary of the same joint, no later than the revision';
comment on column link_candidates.method is 'same serial number, near pseudonym, primary on the other side; or same patient, joint and side, where another primary of the joint is held';
comment on column link_candidates.confidence is 'likely: the serial number went into one patient only, and sex, year of birth and side are the same; or no second primary is near, and a component taken out is of the catalogue number put in. Else possible';
comment on column link_candidates.same_side is 'the two records say the same side';
comment on column link_candidates.same_sex is 'they say the same sex';
comment on column link_candidates.same_birth_year is 'they say the same year of birth';
comment on column link_candidates.same_component is 'a component taken out has the catalogue number of one put in';
comment on column link_candidates.is_held is 'the revision or the primary is held, so its hospital must answer and no person can accept the link';

create table rules (
    relation      varchar not null,
    table_name    varchar not null,
    rule          varchar not null,
    version       smallint not null,
    severity      varchar not null,
    starts        date not null,
    shows         varchar not null,
    text          varchar not null,
    predicate     varchar not null,
    rows_from     date not null,
    rows_to       date,
    in_force_from date not null,
    in_force_to   date
);
comment on table rules is 'One row per rule, version and time in which it was in force here. A rule that came after rows were accepted judges what is received from then on, until somebody applies it to all.';
comment on column rules.relation is 'what it judges';
comment on column rules.table_name is 'name of the file without .csv whose rows it speaks of; hospitals or surgeons where of a unit';
comment on column rules.rule is 'name of the rule';
comment on column rules.version is 'its version';
comment on column rules.severity is 'reject, hold, known already, warn or note';
comment on column rules.starts is 'operations of an earlier day, or files received earlier, are not judged by it';
comment on column rules.shows is 'expression for what the row said';
comment on column rules.text is 'what the hospital is told';
comment on column rules.predicate is 'condition that a faulty row meets';
comment on column rules.rows_from is 'rows received from this day on are judged by it';
comment on column rules.rows_to is 'rows received from this day on are no longer judged by it; null while they are';
comment on column rules.in_force_from is 'what is known on this day or later is settled with it';
comment on column rules.in_force_to is 'what is known on this day or later is settled without it; null while it is in force';

create table unit_findings (
    unit_kind    varchar not null,
    unit         varchar not null,
    rule         varchar not null,
    rule_version smallint not null,
    severity     varchar not null,
    period       varchar not null,
    detail       varchar,
    figure       double,
    usual        double,
    text         varchar not null
);
comment on table unit_findings is 'One row per hospital or surgeon, period and rule that its figures break: a question, not a fault of any row.';
comment on column unit_findings.unit_kind is 'hospital or surgeon';
comment on column unit_findings.unit is 'code of the unit';
comment on column unit_findings.rule is 'name of the rule';
comment on column unit_findings.rule_version is 'version of the rule';
comment on column unit_findings.severity is 'warn or note';
comment on column unit_findings.period is 'year, month or day';
comment on column unit_findings.detail is 'field, reason, digit or class that it is about; null where there is none';
comment on column unit_findings.figure is 'the unit''s figure';
comment on column unit_findings.usual is 'what is usual: of all hospitals, or of this unit before; null where the rule has a limit of its own';
comment on column unit_findings.text is 'what the unit is asked'
