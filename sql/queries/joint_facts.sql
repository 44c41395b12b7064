-- What is known of one joint at implantation, and how its follow-up ended.
--
-- grain:    joint_id
-- reads:    follow_up
-- columns:  joint_no           integer   number of the joint in this cut
--           joint_id           varchar   joint
--           patient_id         varchar   pseudonym of the patient
--           joint              varchar   knee, hip or shoulder
--           side               varchar   left or right
--           class              varchar   class of the primary
--           compartment        varchar   compartment of a partial knee
--           bearing            varchar   mobility of the bearing
--           constraint_design  varchar   constraint design of a total knee
--           bearing_couple     varchar   what slides on what in a hip
--           head_size          utinyint  diameter of the head of a hip, mm
--           humeral_design     varchar   humeral design of a shoulder
--           construct          varchar   the components that name the joint
--           fixation           varchar   how the components are held to bone
--           patella            varchar   patella at the primary
--           approach           varchar   surgical approach
--           technology         varchar   technology assistance
--           diagnosis          varchar   diagnosis at the primary
--           sex                varchar   sex of the patient
--           age                utinyint  completed years at the primary
--           asa                varchar   ASA physical status class
--           bmi                varchar   body mass index, kg per square metre
--           hospital_id        varchar   hospital of the primary
--           surgeon_id         varchar   responsible surgeon
--           surgeon_volume     smallint  the surgeon's primaries of the class in the 365 days before
--           implanted_date     varchar   date of the primary
--           operation_id       varchar   operation record of the primary
--           days               integer   days of follow-up
--           ended              varchar   how follow-up ended
--           died_day           integer   days from implantation to death, where known
select
    joint_no,
    joint_id,
    patient_id,
    joint::varchar as joint,
    side::varchar as side,
    class::varchar as class,
    compartment::varchar as compartment,
    bearing::varchar as bearing,
    constraint_design::varchar as constraint_design,
    bearing_couple::varchar as bearing_couple,
    head_size,
    humeral_design::varchar as humeral_design,
    construct::varchar as construct,
    fixation::varchar as fixation,
    patella::varchar as patella,
    approach::varchar as approach,
    technology::varchar as technology,
    diagnosis::varchar as diagnosis,
    sex::varchar as sex,
    age,
    asa::varchar as asa,
    bmi::varchar as bmi,
    hospital_id::varchar as hospital_id,
    surgeon_id::varchar as surgeon_id,
    surgeon_volume,
    implanted_date::varchar as implanted_date,
    operation_id,
    days,
    ended::varchar as ended,
    died_day
from follow_up
where joint_id = $joint_id
