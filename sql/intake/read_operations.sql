-- Operations with each cell as text (`..._text`) and as a value; what the form leaves empty
-- is "not recorded", and "not applicable" where the class leaves nothing to record. Of an ICD-10 code: whether it has
-- the form, and which joints it can be of (see read_icd10).
--
-- creates:  read_operations
-- needs:    patient_form, sex, joint, side, kind, stage, class, compartment, bearing, constraint, fixation, patella, approach, technology, prophylaxis, diagnosis, asa, action

create or replace temp table read_operations as
with words as (
    select
        p.*,
        {class} as class,
        {kind} as kind,
        {compartment} as compartment_word,
        {constraint} as constraint_word,
        {action} as action_word
    from (
        select * replace (shown_pseudonym(patient_id_text, '{patient_form}') as patient_id_text) from placed_operations
    ) as p
)
select
    w.* exclude (compartment_word, constraint_word, action_word),
    operation_id_text as record_id,
    operation_id_text as operation_id,
    case when regexp_full_match(patient_id_text, '{patient_form}') then patient_id_text end as patient_id,
    year_of(birth_year_text) as birth_year,
    {sex} as sex,
    {joint} as joint,
    {side} as side,
    iso_date(operation_date_text) as operation_date,
    hospital_id_text as hospital_id,
    coalesce(nullif(surgeon_id_text, ''), 'not recorded') as surgeon_id,
    case when kind = 'revision' then {stage} end as stage,
    case when class = 'total' and compartment_text = '' then 'not applicable' else compartment_word end as compartment,
    {bearing} as bearing,
    case when class = 'partial' and constraint_text = '' then 'not applicable' else constraint_word end
        as constraint_design,
    {fixation} as fixation,
    {patella} as patella,
    {approach} as approach,
    {technology} as technology,
    {prophylaxis} as prophylaxis,
    {diagnosis} as diagnosis,
    {asa} as asa,
    try_cast(nullif(bmi_text, '') as decimal(4, 1)) as bmi,
    try_cast(nullif(height_cm_text, '') as decimal(6, 2)) as height_cm,
    try_cast(nullif(weight_kg_text, '') as decimal(6, 2)) as weight_kg,
    nullif(w.icd10_text, '') as icd10,
    i.icd10_is_formed,
    i.icd10_joints,
    iso_date(admission_date_text) as admission_date,
    iso_date(discharge_date_text) as discharge_date,
    nullif(technology_system_text, '') as technology_system,
    case when kind = 'revision' then action_word end as action,
    action_word is null as action_is_unknown,
    yes_no(stem_used_text) as stem_used,
    yes_no(augment_used_text) as augment_used,
    yes_no(graft_used_text) as graft_used
from words as w
left join read_icd10 as i on i.icd10_text = w.icd10_text
