-- What the ICD-10 codes of the operations at hand say, each code once: the longest code of the map that it begins
-- with. `icd10_joints` is empty where a code is of another part of the body, null where the map does not have it.
--
-- creates:  read_icd10
-- needs:    form

create or replace temp table read_icd10 as
with

sent as (
    select distinct icd10_text, replace(icd10_text, '.', '') as code from placed_operations where icd10_text <> ''
)

select
    s.icd10_text,
    regexp_full_match(s.icd10_text, '{form}') as icd10_is_formed,
    arg_max(c.joints, length(c.code)) as icd10_joints,
    arg_max(c.diagnosis, length(c.code)) as icd10_diagnosis
from sent as s
left join icd10_codes as c on starts_with(s.code, c.code)
group by all
