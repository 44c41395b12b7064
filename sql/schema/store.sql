-- The store: every well-formed version of every record that was ever submitted, and what is
-- held, linked and counted of it today. Intake alone writes it; everybody else reads cuts.
--
-- creates:  store_facts, submissions, submission_files, operations, components, revision_reasons, catalogue, catalogue_pairs, hospitals, surgeons, hospital_systems, deaths, losses, admin_counts, row_findings, sent_rows, held_rows, noted_rows, links, rules, record_findings, operation_versions, implants_of_primaries, revision_facts, settled_state

create table store_facts (
    fact  varchar not null,
    value varchar not null
);
comment on table store_facts is 'What the program must know of this store before it reads the rest.';
comment on column store_facts.fact is 'name of the fact; release is the number of the store''s layout';
comment on column store_facts.value is 'its value';

create table submissions (
    submission_no    integer not null,
    submission_id    varchar not null,
    kind             varchar not null,
    sender           varchar not null,
    sequence         integer not null,
    received_date    date not null,
    complete_through date not null,
    schema_version   varchar not null,
    reason_for_correction varchar
);
comment on table submissions is 'One row per submission taken in: what its envelope says.';
comment on column submissions.submission_no is 'number in this store, in order of arrival; nothing that is published depends on it';
comment on column submissions.submission_id is 'the sender''s own name for it, unique in the store';
comment on column submissions.kind is 'operations, catalogue, units, deaths, losses or admin_counts';
comment on column submissions.sender is 'hospital, or office for the feeds that no hospital sends';
comment on column submissions.sequence is 'number in the order of its sender and kind; of two versions of a record the higher one wins';
comment on column submissions.received_date is 'date received; its records are known from then';
comment on column submissions.complete_through is 'date up to which the sender believes the feed to be complete';
comment on column submissions.schema_version is 'version of the file description it was written by';
comment on column submissions.reason_for_correction is 'why the sender corrects what it had sent, where its envelope says so';

create table submission_files (
    submission_no integer not null,
    table_name    varchar not null,
    sha256        varchar not null,
    declared      integer not null,
    received      integer not null,
    accepted      integer not null,
    held          integer not null,
    rejected      integer not null,
    known_already integer not null
);
comment on table submission_files is 'One row per file taken in: received = accepted + held + rejected + known already.';
comment on column submission_files.submission_no is 'the submission, as in submissions';
comment on column submission_files.table_name is 'name of the file without its ending';
comment on column submission_files.sha256 is 'SHA-256 of the file''s bytes; of Parquet, of the CSV that it stands for; where patients came under numbers, of its rows under pseudonyms';
comment on column submission_files.declared is 'rows that the envelope declares';
comment on column submission_files.received is 'rows read';
comment on column submission_files.accepted is 'rows counted, or counted until a correction replaced them';
comment on column submission_files.held is 'rows kept back until the hospital corrects them, or held until a correction replaced them';
comment on column submission_files.rejected is 'rows not taken in';
comment on column submission_files.known_already is 'rows that say what an earlier row had said';

create table operations (
    version_no        bigint not null,
    submission_no     integer not null,
    row_no            integer not null,
    known_from        date not null,
    known_to          date,
    repeats           boolean not null,
    operation_id      varchar not null,
    patient_id        varchar not null,
    birth_year        smallint,
    sex               varchar,
    joint             varchar not null,
    side              varchar,
    operation_date    date not null,
    hospital_id       varchar not null,
    surgeon_id        varchar not null,
    kind              varchar not null,
    stage             varchar,
    class             varchar,
    compartment       varchar,
    bearing           varchar,
    constraint_design varchar,
    fixation          varchar,
    patella           varchar,
    approach          varchar,
    technology        varchar,
    prophylaxis       varchar,
    diagnosis         varchar,
    asa               varchar,
    bmi               decimal(4, 1),
    height_cm         decimal(6, 2),
    weight_kg         decimal(6, 2),
    icd10             varchar,
    admission_date    date,
    discharge_date    date,
    technology_system varchar,
    action            varchar,
    stem_used         boolean,
    augment_used      boolean,
    graft_used        boolean
);
comment on table operations is 'One row per version of an operation, primaries and revisions alike. A version is the operation with its components and reasons, as one submission has them. Null is a value that could not be read; row_findings has it.';
comment on column operations.version_no is 'submission_no times 1,000,000,000 plus row_no';
comment on column operations.submission_no is 'the submission, as in submissions';
comment on column operations.row_no is 'row in its file, 1 for the first under the header';
comment on column operations.known_from is 'date from which this version was known';
comment on column operations.known_to is 'date from which another version replaced it; null while it stands';
comment on column operations.repeats is 'says nothing that the version before had not said';
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

create table components (
    version_no   bigint not null,
    row_no       integer not null,
    line_no      smallint not null,
    role         varchar,
    action       varchar,
    catalogue_no varchar not null,
    lot          varchar not null,
    serial       varchar not null,
    expiry_date  date,
    udi          varchar not null
);
comment on table components is 'One row per component put in or taken out at an operation, belonging to that version of it.';
comment on column components.version_no is 'version of the operation it belongs to';
comment on column components.row_no is 'row in its file, 1 for the first under the header';
comment on column components.line_no is 'line in the operation';
comment on column components.role is 'what the component is in the joint';
comment on column components.action is 'implanted or removed';
comment on column components.catalogue_no is 'catalogue number as submitted';
comment on column components.lot is 'lot number as submitted; empty where not recorded';
comment on column components.serial is 'serial number as submitted; empty where not recorded';
comment on column components.expiry_date is 'last day on which it may be used; null where not recorded';
comment on column components.udi is 'device label as submitted, scanned or in brackets; empty where not recorded';

create table revision_reasons (
    version_no bigint not null,
    row_no     integer not null,
    line_no    smallint not null,
    reason     varchar not null,
    leads      boolean,
    note       varchar not null
);
comment on table revision_reasons is 'One row per reason for a revision, belonging to that version of it.';
comment on column revision_reasons.version_no is 'version of the operation it belongs to';
comment on column revision_reasons.row_no is 'row in its file, 1 for the first under the header';
comment on column revision_reasons.line_no is 'line in the operation';
comment on column revision_reasons.reason is 'reason in detail';
comment on column revision_reasons.leads is 'marked as the leading reason; null where the form is silent';
comment on column revision_reasons.note is 'what the form says beside the reason; restricted: it goes to no cut and no screen';

create table catalogue (
    version_no        bigint not null,
    submission_no     integer not null,
    row_no            integer not null,
    known_from        date not null,
    known_to          date,
    repeats           boolean not null,
    catalogue_no      varchar not null,
    gtin              varchar not null,
    maker             varchar not null,
    implant           varchar not null,
    role              varchar,
    joint             varchar,
    class             varchar,
    bearing           varchar,
    constraint_design varchar,
    fixation          varchar,
    material          varchar,
    size              varchar not null,
    side              varchar,
    introduced_date   date,
    withdrawn_date    date
);
comment on table catalogue is 'One row per version of an entry in the implant catalogue.';
comment on column catalogue.version_no is 'submission_no times 1,000,000,000 plus row_no';
comment on column catalogue.submission_no is 'the submission, as in submissions';
comment on column catalogue.row_no is 'row in its file, 1 for the first under the header';
comment on column catalogue.known_from is 'date from which this version was known';
comment on column catalogue.known_to is 'date from which another version replaced it; null while it stands';
comment on column catalogue.repeats is 'says nothing that the version before had not said';
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

create table catalogue_pairs (
    version_no     bigint not null,
    submission_no  integer not null,
    row_no         integer not null,
    known_from     date not null,
    known_to       date,
    repeats        boolean not null,
    implant        varchar not null,
    paired_implant varchar not null,
    size_steps     smallint not null
);
comment on table catalogue_pairs is 'One row per version of a pair of implants that may be combined.';
comment on column catalogue_pairs.version_no is 'submission_no times 1,000,000,000 plus row_no';
comment on column catalogue_pairs.submission_no is 'the submission, as in submissions';
comment on column catalogue_pairs.row_no is 'row in its file, 1 for the first under the header';
comment on column catalogue_pairs.known_from is 'date from which this version was known';
comment on column catalogue_pairs.known_to is 'date from which another version replaced it; null while it stands';
comment on column catalogue_pairs.repeats is 'says nothing that the version before had not said';
comment on column catalogue_pairs.implant is 'implant code: one device family in one role';
comment on column catalogue_pairs.paired_implant is 'implant that may be combined with it';
comment on column catalogue_pairs.size_steps is 'sizes that the two may lie apart; 0 where they must be the same';

create table hospitals (
    version_no    bigint not null,
    submission_no integer not null,
    row_no        integer not null,
    known_from    date not null,
    known_to      date,
    repeats       boolean not null,
    hospital_id   varchar not null,
    region        varchar not null,
    active_from   date,
    active_to     date
);
comment on table hospitals is 'One row per version of a hospital''s entry.';
comment on column hospitals.version_no is 'submission_no times 1,000,000,000 plus row_no';
comment on column hospitals.submission_no is 'the submission, as in submissions';
comment on column hospitals.row_no is 'row in its file, 1 for the first under the header';
comment on column hospitals.known_from is 'date from which this version was known';
comment on column hospitals.known_to is 'date from which another version replaced it; null while it stands';
comment on column hospitals.repeats is 'says nothing that the version before had not said';
comment on column hospitals.hospital_id is 'code of the hospital';
comment on column hospitals.region is 'code of its region, or not recorded';
comment on column hospitals.active_from is 'first day on the register; null where it was there from the start';
comment on column hospitals.active_to is 'last day on the register; null while it takes part';

create table surgeons (
    version_no    bigint not null,
    submission_no integer not null,
    row_no        integer not null,
    known_from    date not null,
    known_to      date,
    repeats       boolean not null,
    surgeon_id    varchar not null,
    active_from   date,
    active_to     date
);
comment on table surgeons is 'One row per version of a surgeon''s entry.';
comment on column surgeons.version_no is 'submission_no times 1,000,000,000 plus row_no';
comment on column surgeons.submission_no is 'the submission, as in submissions';
comment on column surgeons.row_no is 'row in its file, 1 for the first under the header';
comment on column surgeons.known_from is 'date from which this version was known';
comment on column surgeons.known_to is 'date from which another version replaced it; null while it stands';
comment on column surgeons.repeats is 'says nothing that the version before had not said';
comment on column surgeons.surgeon_id is 'code of the surgeon';
comment on column surgeons.active_from is 'first day on the register; null where not known';
comment on column surgeons.active_to is 'last day on the register; null while in practice';

create table hospital_systems (
    version_no        bigint not null,
    submission_no     integer not null,
    row_no            integer not null,
    known_from        date not null,
    known_to          date,
    repeats           boolean not null,
    hospital_id       varchar not null,
    technology_system varchar not null,
    active_from       date,
    active_to         date
);
comment on table hospital_systems is 'One row per version of a robot or navigation system that a hospital has.';
comment on column hospital_systems.version_no is 'submission_no times 1,000,000,000 plus row_no';
comment on column hospital_systems.submission_no is 'the submission, as in submissions';
comment on column hospital_systems.row_no is 'row in its file, 1 for the first under the header';
comment on column hospital_systems.known_from is 'date from which this version was known';
comment on column hospital_systems.known_to is 'date from which another version replaced it; null while it stands';
comment on column hospital_systems.repeats is 'says nothing that the version before had not said';
comment on column hospital_systems.hospital_id is 'code of the hospital';
comment on column hospital_systems.technology_system is 'code of the robot or navigation system';
comment on column hospital_systems.active_from is 'first day of use; null where not known';
comment on column hospital_systems.active_to is 'last day of use; null while in use';

create table deaths (
    version_no    bigint not null,
    submission_no integer not null,
    row_no        integer not null,
    known_from    date not null,
    known_to      date,
    repeats       boolean not null,
    patient_id    varchar not null,
    death_date    date not null
);
comment on table deaths is 'One row per version of a death.';
comment on column deaths.version_no is 'submission_no times 1,000,000,000 plus row_no';
comment on column deaths.submission_no is 'the submission, as in submissions';
comment on column deaths.row_no is 'row in its file, 1 for the first under the header';
comment on column deaths.known_from is 'date from which this version was known';
comment on column deaths.known_to is 'date from which another version replaced it; null while it stands';
comment on column deaths.repeats is 'says nothing that the version before had not said';
comment on column deaths.patient_id is 'pseudonym of the patient';
comment on column deaths.death_date is 'date of death';

create table losses (
    version_no    bigint not null,
    submission_no integer not null,
    row_no        integer not null,
    known_from    date not null,
    known_to      date,
    repeats       boolean not null,
    patient_id    varchar not null,
    loss_date     date not null,
    loss          varchar
);
comment on table losses is 'One row per version of a patient''s leaving the register.';
comment on column losses.version_no is 'submission_no times 1,000,000,000 plus row_no';
comment on column losses.submission_no is 'the submission, as in submissions';
comment on column losses.row_no is 'row in its file, 1 for the first under the header';
comment on column losses.known_from is 'date from which this version was known';
comment on column losses.known_to is 'date from which another version replaced it; null while it stands';
comment on column losses.repeats is 'says nothing that the version before had not said';
comment on column losses.patient_id is 'pseudonym of the patient';
comment on column losses.loss_date is 'last day on which the patient could be followed';
comment on column losses.loss is 'emigrated or opted out';

create table admin_counts (
    version_no    bigint not null,
    submission_no integer not null,
    row_no        integer not null,
    known_from    date not null,
    known_to      date,
    repeats       boolean not null,
    hospital_id   varchar not null,
    joint         varchar not null,
    kind          varchar not null,
    month         date not null,
    operations    integer not null
);
comment on table admin_counts is 'One row per version of a count from a hospital''s administrative system.';
comment on column admin_counts.version_no is 'submission_no times 1,000,000,000 plus row_no';
comment on column admin_counts.submission_no is 'the submission, as in submissions';
comment on column admin_counts.row_no is 'row in its file, 1 for the first under the header';
comment on column admin_counts.known_from is 'date from which this version was known';
comment on column admin_counts.known_to is 'date from which another version replaced it; null while it stands';
comment on column admin_counts.repeats is 'says nothing that the version before had not said';
comment on column admin_counts.hospital_id is 'code of the hospital';
comment on column admin_counts.joint is 'joint';
comment on column admin_counts.kind is 'primary or revision';
comment on column admin_counts.month is 'first day of the month';
comment on column admin_counts.operations is 'operations in that month by the administrative system';

create table row_findings (
    table_name   varchar not null,
    place        bigint not null,
    record_id    varchar not null,
    known_from   date not null,
    rule         varchar not null,
    rule_version smallint not null,
    severity     varchar not null,
    value        varchar,
    text         varchar not null
);
comment on table row_findings is 'One row per rule that a submitted row breaks by itself, whatever else is known; found once, when it was taken in.';
comment on column row_findings.table_name is 'name of the file without its ending';
comment on column row_findings.place is 'the row: submission_no times 1,000,000,000 plus row_no';
comment on column row_findings.record_id is 'number of the operation, the patient, the catalogue entry or the unit, as submitted';
comment on column row_findings.known_from is 'date on which the row was received';
comment on column row_findings.rule is 'name of the rule';
comment on column row_findings.rule_version is 'its version when the row was taken in';
comment on column row_findings.severity is 'reject, hold, known already, warn or note';
comment on column row_findings.value is 'what the row said, where the rule shows it';
comment on column row_findings.text is 'what the hospital is told';

create table sent_rows (
    table_name varchar not null,
    place      bigint not null,
    record_id  varchar not null,
    cells      varchar[] not null
);
comment on table sent_rows is 'One row per row of an operation that was sent otherwise than the store''s values would be written, or was rejected: so every row can go back to its hospital as it was sent. Patients are under pseudonyms; what had not their form is not kept.';
comment on column sent_rows.table_name is 'name of the file without .csv';
comment on column sent_rows.place is 'the row: submission_no times 1,000,000,000 plus row_no';
comment on column sent_rows.record_id is 'number of the operation, as submitted';
comment on column sent_rows.cells is 'its cells as sent, in the order of the file''s columns';

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
comment on table held_rows is 'One row per row and rule that keeps it from being counted: held until it is corrected, or rejected. Rows that a later submission has replaced are not listed.';
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
comment on table noted_rows is 'One row per row and rule that does not keep it back: a warning or note on a row that is counted, or a row known already under another number.';
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
comment on table links is 'One row per revision that is counted or could be: the primary it belongs to by the records alone, or why there is none. What people decided is added when a cut is made.';
comment on column links.operation_id is 'operation record of the revision';
comment on column links.primary_operation_id is 'operation record of its primary; null where unlinked';
comment on column links.method is 'how it was linked: same patient, joint and side; by decision same serial number, near pseudonym or by hand; or not linked';
comment on column links.confidence is 'certain where patient, joint and side are the same; by decision likely or possible, as link_candidates; null where unlinked';
comment on column links.cause is 'why it is unlinked: link undone, primary contested, primary held back, linkage failure suspected, perhaps before the register began, primary elsewhere or not submitted, or unknown; null where linked';
comment on column links.decided_by is 'rule, or who accepted or undid the link';
comment on column links.decided_on is 'date from which all that decided it was known';

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

create table record_findings (
    table_name   varchar not null,
    place        bigint not null,
    record_id    varchar not null,
    known_from   date not null,
    rule         varchar not null,
    rule_version smallint not null,
    severity     varchar not null,
    value        varchar,
    text         varchar not null
);
comment on table record_findings is 'One row per rule that a record breaks beside what else is known today; found anew for a patient whenever something new is known that bears on it.';
comment on column record_findings.table_name is 'name of the file without its ending';
comment on column record_findings.place is 'the row: submission_no times 1,000,000,000 plus row_no';
comment on column record_findings.record_id is 'number of the operation, or the patient of a death';
comment on column record_findings.known_from is 'date on which the row was received';
comment on column record_findings.rule is 'name of the rule';
comment on column record_findings.rule_version is 'its version';
comment on column record_findings.severity is 'hold, known already, warn or note';
comment on column record_findings.value is 'what the row said, where the rule shows it';
comment on column record_findings.text is 'what the hospital is told';

create table operation_versions (
    version_no    bigint not null,
    submission_no integer not null,
    operation_id  varchar not null,
    standing      varchar not null,
    known_to      date
);
comment on table operation_versions is 'One row per version of an operation that has several: which of them stands today.';
comment on column operation_versions.version_no is 'version of the operation';
comment on column operation_versions.submission_no is 'the submission, as in submissions';
comment on column operation_versions.operation_id is 'number of the operation';
comment on column operation_versions.standing is 'current, replaced or repeat';
comment on column operation_versions.known_to is 'date from which another version replaced it; null while it stands';

create table implants_of_primaries (
    version_no           bigint not null,
    first_implant        varchar,
    second_implant       varchar,
    catalogue_class      varchar,
    catalogue_bearing    varchar,
    catalogue_constraint varchar,
    head_material        varchar,
    liner_material       varchar,
    head_size            utinyint,
    humeral_design       varchar,
    construct            varchar
);
comment on table implants_of_primaries is 'One row per primary with a component that the catalogue knows: what it says of them today.';
comment on column implants_of_primaries.version_no is 'version of the operation';
comment on column implants_of_primaries.first_implant is 'implant that names the construct first';
comment on column implants_of_primaries.second_implant is 'implant that names it second';
comment on column implants_of_primaries.catalogue_class is 'class that its components are made for; null where they serve several';
comment on column implants_of_primaries.catalogue_bearing is 'mobility of the bearing; null where they do not agree or say nothing';
comment on column implants_of_primaries.catalogue_constraint is 'constraint design; null where they do not agree or say nothing';
comment on column implants_of_primaries.head_material is 'material of the head''s sliding surface';
comment on column implants_of_primaries.liner_material is 'material that it slides on';
comment on column implants_of_primaries.head_size is 'size of the head, mm';
comment on column implants_of_primaries.humeral_design is 'stemmed, stemless or resurfacing';
comment on column implants_of_primaries.construct is 'the implants that name it, or null';

create table revision_facts (
    version_no           bigint not null,
    operation_id         varchar not null,
    known_from           date not null,
    patient_id           varchar not null,
    birth_year           smallint,
    sex                  varchar,
    joint                varchar not null,
    side                 varchar,
    operation_date       date not null,
    primary_operation_id varchar,
    primary_known_from   date,
    later_primary_id     varchar,
    held_primary_id      varchar,
    other_side_id        varchar
);
comment on table revision_facts is 'One row per revision and primary it could belong to by patient, joint and side, as known today; links are made of it.';
comment on column revision_facts.version_no is 'version of the operation';
comment on column revision_facts.operation_id is 'number of the operation';
comment on column revision_facts.known_from is 'date on which it was received';
comment on column revision_facts.patient_id is 'pseudonym of the patient';
comment on column revision_facts.birth_year is 'year of birth';
comment on column revision_facts.sex is 'sex';
comment on column revision_facts.joint is 'joint';
comment on column revision_facts.side is 'side';
comment on column revision_facts.operation_date is 'date of the revision';
comment on column revision_facts.primary_operation_id is 'primary of that joint, no later than the revision';
comment on column revision_facts.primary_known_from is 'date on which that primary was received';
comment on column revision_facts.later_primary_id is 'primary of that joint, later than the revision';
comment on column revision_facts.held_primary_id is 'primary of that joint that a rule holds';
comment on column revision_facts.other_side_id is 'primary of the patient''s other side, no later than the revision';

create table settled_state (
    submissions integer not null,
    as_of       date not null,
    settled_by  varchar not null
);
comment on table settled_state is 'One row once the store was settled: how far, and by what.';
comment on column settled_state.submissions is 'highest submission_no that was settled';
comment on column settled_state.as_of is 'day as of which it was';
comment on column settled_state.settled_by is 'hash over the rules, lists and statements that settled it'
