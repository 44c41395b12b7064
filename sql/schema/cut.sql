-- The tables a data cut adds to those it copies from the store. Everybody reads cuts,
-- nobody writes one again. Types ending in _words hold the vocabulary's lists, types ending
-- in _codes the codes that this cut's data hold; freeze makes both before it runs this file.
--
-- creates:  follow_up, component_life, revision_episodes, held_revisions, cut_facts

create table follow_up (
    joint_no              integer primary key,
    joint_id              varchar not null,
    patient_no            integer not null,
    patient_id            varchar not null,
    joint                 joint_words not null,
    side                  side_words not null,
    class                 class_words not null,
    compartment           compartment_words not null,
    bearing               bearing_words not null,
    constraint_design     constraint_words not null,
    bearing_couple        bearing_couple_words not null,
    head_size             utinyint,
    humeral_design        humeral_design_words not null,
    construct             construct_codes not null,
    fixation              fixation_words not null,
    patella               patella_words not null,
    approach              approach_words not null,
    technology            technology_words not null,
    prophylaxis           prophylaxis_words not null,
    diagnosis             diagnosis_words not null,
    sex                   sex_words not null,
    age                   utinyint not null,
    asa                   asa_words not null,
    bmi                   decimal(4, 1),
    hospital_id           hospital_codes not null,
    region                region_codes not null,
    surgeon_id            surgeon_codes not null,
    surgeon_volume        smallint,
    implanted_date        date not null,
    implanted_year        smallint not null,
    operation_id          varchar not null,
    days                  integer not null,
    ended                 ended_words not null,
    followed_days         integer not null,
    followed_end          ended_words not null,
    primary_roles         uinteger not null,
    died_day              integer,
    reason_group          reason_group_words,
    reason                reason_words,
    action                action_words,
    stem_used             boolean,
    augment_used          boolean,
    graft_used            boolean,
    revision_date         date,
    revision_operation_id varchar
);
comment on table follow_up is 'One row per primary joint, followed to its first revision, death, loss or the end of the cut. Every risk is counted from it.';
comment on column follow_up.joint_no is 'dense number of the joint in this cut, from 0; another cut may number it otherwise';
comment on column follow_up.joint_id is 'patient pseudonym, joint and side, as P123456789-KL; the same in every cut';
comment on column follow_up.patient_no is 'dense number of the patient in this cut, from 0';
comment on column follow_up.patient_id is 'pseudonym of the patient';
comment on column follow_up.joint is 'knee, hip or shoulder';
comment on column follow_up.side is 'left or right';
comment on column follow_up.class is 'class of the replacement: of a knee total, partial or patellofemoral; of a hip total, hemi or resurfacing; of a shoulder anatomic, reverse or hemi';
comment on column follow_up.compartment is 'compartment replaced by a partial knee; else not applicable';
comment on column follow_up.bearing is 'mobility of the bearing of a knee or hip: the catalogue''s word, else the form''s; not applicable on a shoulder, a hemi or a patellofemoral';
comment on column follow_up.constraint_design is 'constraint design of a total knee; else not applicable';
comment on column follow_up.bearing_couple is 'what slides on what in a total or resurfacing hip, from the catalogue: material of the head on that of the dual-mobility bearing, else of the liner, else of the one-piece cup; else not applicable';
comment on column follow_up.head_size is 'diameter of the head of a total or resurfacing hip in whole millimetres, from the catalogue; null where not known and on other joints';
comment on column follow_up.humeral_design is 'stemmed, stemless or resurfacing, by the humeral component put into a shoulder; else not applicable';
comment on column follow_up.construct is 'implant codes of the two components that name the joint, as KF-017/KT-017, or the one where its class has no second';
comment on column follow_up.fixation is 'how the components are held to bone';
comment on column follow_up.patella is 'whether the patella was resurfaced at the primary of a knee; else not applicable';
comment on column follow_up.approach is 'surgical approach at the primary';
comment on column follow_up.technology is 'technology assistance at the primary';
comment on column follow_up.prophylaxis is 'chemical thromboprophylaxis at the primary';
comment on column follow_up.diagnosis is 'diagnosis that led to the primary';
comment on column follow_up.sex is 'sex of the patient';
comment on column follow_up.age is 'completed years at the primary, from the year of birth: year of operation less year of birth';
comment on column follow_up.asa is 'ASA physical status class at the primary';
comment on column follow_up.bmi is 'body mass index at the primary, kg per square metre; null where not recorded';
comment on column follow_up.hospital_id is 'hospital of the primary';
comment on column follow_up.region is 'region of that hospital';
comment on column follow_up.surgeon_id is 'responsible surgeon of the primary';
comment on column follow_up.surgeon_volume is 'primaries of the same joint and class by that surgeon in the 365 days before, same day left out; null in the surgeon''s first 365 days on the register and where no surgeon is recorded';
comment on column follow_up.implanted_date is 'date of the primary';
comment on column follow_up.implanted_year is 'calendar year of the primary';
comment on column follow_up.operation_id is 'operation record of the primary';
comment on column follow_up.days is 'whole days from implantation to the end of follow-up; 0 where both fall on one day';
comment on column follow_up.ended is 'how follow-up ended: revised, died, lost (emigrated or opted out) or in place at the end of the cut';
comment on column follow_up.followed_days is 'whole days from implantation to death, loss or the end of what is complete, whichever is first, revised or not; equals days unless revised';
comment on column follow_up.followed_end is 'what that was: died, lost or in place; equals ended unless revised';
comment on column follow_up.primary_roles is 'roles of the components put in at the primary, added up: two to the power of the role''s place in the list of roles, from 0, as 1 << enum_code(role)';
comment on column follow_up.died_day is 'days from implantation to death, where death is known by the end of the cut, also after a revision';
comment on column follow_up.reason_group is 'group of the leading reason of the first revision; null unless revised';
comment on column follow_up.reason is 'leading reason of the first revision in detail; null unless revised';
comment on column follow_up.action is 'what was done at the first revision; null unless revised';
comment on column follow_up.stem_used is 'a stem was used at the first revision; null unless revised';
comment on column follow_up.augment_used is 'an augment was used at the first revision; null unless revised';
comment on column follow_up.graft_used is 'bone graft was used at the first revision; null unless revised';
comment on column follow_up.revision_date is 'date of the first revision; null unless revised';
comment on column follow_up.revision_operation_id is 'operation record of the first revision; null unless revised';

create table component_life (
    joint_no     integer not null,
    operation_id varchar not null,
    line_no      smallint not null,
    role         role_words not null,
    implant      implant_codes not null,
    maker        maker_codes not null,
    catalogue_no varchar not null,
    size         varchar not null,
    lot          varchar not null,
    in_day       integer not null,
    out_day      integer,
    out_reason   reason_words
);
comment on table component_life is 'One row per component put into a joint, from the day it went in to the day it came out.';
comment on column component_life.joint_no is 'the joint, as in follow_up';
comment on column component_life.operation_id is 'operation at which the component went in';
comment on column component_life.line_no is 'line of the component in that operation';
comment on column component_life.role is 'what the component is in the joint';
comment on column component_life.implant is 'implant code from the catalogue: one device family in one role';
comment on column component_life.maker is 'code of the maker, from the catalogue';
comment on column component_life.catalogue_no is 'catalogue number as submitted';
comment on column component_life.size is 'size from the catalogue';
comment on column component_life.lot is 'lot number as submitted; empty where not recorded';
comment on column component_life.in_day is 'days from the primary to the operation that put it in; 0 for the primary''s own components';
comment on column component_life.out_day is 'days from the primary to its removal; null while in place; concluded from the next of its role or from what was done where the form does not list it';
comment on column component_life.out_reason is 'leading reason of the revision that removed it';

create table revision_episodes (
    joint_no           integer not null,
    sequence           smallint not null,
    operation_id       varchar not null,
    revision_date      date not null,
    day                integer not null,
    stage              stage_words not null,
    reimplanted_day    integer,
    restart_day        integer not null,
    stage_open         boolean not null,
    hospital_id        hospital_codes not null,
    surgeon_id         surgeon_codes not null,
    reason_group       reason_group_words not null,
    reason             reason_words,
    action             action_words not null,
    stem_used          boolean not null,
    augment_used       boolean not null,
    graft_used         boolean not null,
    septic             boolean not null,
    bone_fixed_removed boolean not null,
    bearing_only       boolean not null,
    patella_added_only boolean not null,
    to_total           boolean not null,
    to_reverse         boolean not null,
    emptied            boolean not null
);
comment on table revision_episodes is 'One row per revision of a registered joint, in order; two stages are one episode, dated at the first.';
comment on column revision_episodes.joint_no is 'the joint, as in follow_up';
comment on column revision_episodes.sequence is '1 for the first revision of the joint, 2 for the next';
comment on column revision_episodes.operation_id is 'operation record of the revision, or of its first stage';
comment on column revision_episodes.revision_date is 'date of the revision, or of its first stage';
comment on column revision_episodes.day is 'days from the primary';
comment on column revision_episodes.stage is 'single, first of two, or second of two where no first is known';
comment on column revision_episodes.reimplanted_day is 'days from the primary to the second of two stages; null where there is none';
comment on column revision_episodes.restart_day is 'days from the primary to where a clock since this revision starts: the operation, the second of two stages, or for a first stage without one the end of its window of twelve months, which may lie beyond follow-up';
comment on column revision_episodes.stage_open is 'a first stage whose second may still come: its window of twelve months outlasts follow-up, and the patient is not known to have died';
comment on column revision_episodes.hospital_id is 'hospital of the revision';
comment on column revision_episodes.surgeon_id is 'responsible surgeon of the revision';
comment on column revision_episodes.reason_group is 'group of the leading reason';
comment on column revision_episodes.reason is 'leading reason in detail; null where none is recorded';
comment on column revision_episodes.action is 'what was done';
comment on column revision_episodes.stem_used is 'a stem was used';
comment on column revision_episodes.augment_used is 'an augment was used';
comment on column revision_episodes.graft_used is 'bone graft was used';
comment on column revision_episodes.septic is 'the leading reason is infection';
comment on column revision_episodes.bone_fixed_removed is 'a component fixed to bone came out: of a knee femoral, tibial, patellar, stem or augment; of a hip femoral stem, resurfacing head, shell, one-piece cup, cage or augment; of a shoulder humeral stem, stemless body, resurfacing head, glenoid, tray, baseplate or augment';
comment on column revision_episodes.bearing_only is 'nothing was exchanged but parts that can be while all that is fixed to bone stays: bearing inserts, heads, liners, glenospheres';
comment on column revision_episodes.patella_added_only is 'a patellar component was put in where there was none, and nothing else was done; false where the components are not listed';
comment on column revision_episodes.to_total is 'a total was put in where the primary was partial, patellofemoral or hemi, at either stage; for a shoulder an anatomic or a reverse one';
comment on column revision_episodes.to_reverse is 'a reverse shoulder was put in where the primary was an anatomic one, at either stage';
comment on column revision_episodes.emptied is 'the components came out and none went in at that operation: removal with a spacer or without replacement';

create table held_revisions (
    operation_id  varchar primary key,
    joint_no      integer,
    rule          varchar not null
);
comment on table held_revisions is 'One row per revision that is held back and so counted in no risk; holding one lowers the risk.';
comment on column held_revisions.operation_id is 'operation record of the held revision';
comment on column held_revisions.joint_no is 'the joint it would belong to by patient, joint and side; null where that cannot be told';
comment on column held_revisions.rule is 'first rule that holds it';

create table cut_facts (
    fact  varchar primary key,
    value varchar not null
);
comment on table cut_facts is 'The cut''s manifest, a row a fact, for those who read the cut with SQL alone.';
comment on column cut_facts.fact is 'name of the fact, as in the manifest';
comment on column cut_facts.value is 'its value; lists and tables as JSON';
