-- Operation records that a link may join, with what each says of its patient and its joint.
--
-- grain:    operation_id
-- reads:    operations
-- columns:  operation_id   varchar  operation record
--           patient        varchar  pseudonym of the patient
--           sex            varchar  sex
--           birth_year     varchar  year of birth
--           height         varchar  height, cm; null where not recorded
--           joint          varchar  joint
--           side           varchar  side
--           date           varchar  date of the operation
--           hospital       varchar  hospital
--           surgeon        varchar  surgeon
--           kind           varchar  primary or revision
--           stage          varchar  of a revision: single, first of two or second of two; null on a primary
--           class          varchar  class of the replacement; null where a revision does not say
--           fixation       varchar  fixation
--           bearing        varchar  mobility of the bearing
--           diagnosis      varchar  diagnosis
--           action         varchar  what a revision did; null on a primary
select
    operation_id,
    patient_id as patient,
    sex::varchar as sex,
    birth_year::varchar as birth_year,
    height_cm::varchar as height,
    joint::varchar as joint,
    side::varchar as side,
    operation_date::varchar as date,
    hospital_id::varchar as hospital,
    surgeon_id::varchar as surgeon,
    kind::varchar as kind,
    stage::varchar as stage,
    class::varchar as class,
    fixation::varchar as fixation,
    bearing::varchar as bearing,
    diagnosis::varchar as diagnosis,
    action::varchar as action
from operations
where list_contains($operation_ids, operation_id)
