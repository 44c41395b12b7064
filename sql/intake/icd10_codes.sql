-- The map of ICD-10 codes (regdash/icd10.py), where statements can join it.
--
-- creates:  icd10_codes

create or replace temp table icd10_codes as
select unnest($codes) as code, unnest($diagnoses) as diagnosis, unnest($joints) as joints
