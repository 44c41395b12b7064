-- The joints of a cohort as an extract reads them, before anything is made coarser: what never leaves the office (numbers,
-- ids, days) is here so that rows can be counted, ordered and followed.
--
-- grain:    joint_no
-- reads:    follow_up
-- needs:    predicate
-- columns:  joint_no     integer   joint
--           joint_id     varchar   joint, as in every cut
--           patient_no   integer   patient
--           hospital_id  varchar   hospital of the primary
--           joint        varchar   knee, hip or shoulder
--           side         varchar   left or right
--           class        varchar   class of the replacement
--           compartment  varchar   compartment of a partial knee
--           bearing      varchar   mobility of the bearing
--           constraint   varchar   constraint design
--           couple       varchar   what slides on what
--           head         integer   diameter of the head, mm
--           humeral      varchar   humeral design
--           construct    varchar   the components that name the joint
--           fixation     varchar   how the components are held to bone
--           patella      varchar   patella at the primary
--           approach     varchar   surgical approach
--           technology   varchar   technology assistance
--           prophylaxis  varchar   chemical thromboprophylaxis
--           diagnosis    varchar   diagnosis at the primary
--           sex          varchar   sex of the patient
--           age          integer   completed years at the primary
--           asa          varchar   ASA class
--           bmi          double    body mass index
--           region       varchar   region of the hospital
--           volume       integer   the surgeon's primaries in the 365 days before
--           implanted    date      day of the primary
--           days         integer   whole days to the end of follow-up
--           ended        varchar   how follow-up ended
--           reason_group varchar   group of the leading reason of the first revision
--           reason       varchar   leading reason; its group where the detail is not recorded
--           action       varchar   what was done at the first revision
--           stem         boolean   a stem was used then
--           augment      boolean   an augment was used then
--           graft        boolean   bone graft was used then
select
    joint_no,
    joint_id,
    patient_no,
    hospital_id::varchar as hospital_id,
    joint::varchar as joint,
    side::varchar as side,
    class::varchar as class,
    compartment::varchar as compartment,
    bearing::varchar as bearing,
    constraint_design::varchar as constraint,
    bearing_couple::varchar as couple,
    head_size::integer as head,
    humeral_design::varchar as humeral,
    construct::varchar as construct,
    fixation::varchar as fixation,
    patella::varchar as patella,
    approach::varchar as approach,
    technology::varchar as technology,
    prophylaxis::varchar as prophylaxis,
    diagnosis::varchar as diagnosis,
    sex::varchar as sex,
    age::integer as age,
    asa::varchar as asa,
    bmi::double as bmi,
    region::varchar as region,
    surgeon_volume::integer as volume,
    implanted_date as implanted,
    days,
    ended::varchar as ended,
    reason_group::varchar as reason_group,
    coalesce(reason::varchar, reason_group::varchar) as reason,
    action::varchar as action,
    stem_used as stem,
    augment_used as augment,
    graft_used as graft
from follow_up
where {predicate}
order by joint_no
