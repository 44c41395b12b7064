-- Deaths with each cell as text and as a value.
--
-- creates:  read_deaths
-- needs:    patient_form

create or replace temp table read_deaths as
select
    p.*,
    patient_id_text as record_id,
    case when regexp_full_match(patient_id_text, '{patient_form}') then patient_id_text end as patient_id,
    iso_date(death_date_text) as death_date
from (
    select * replace (shown_pseudonym(patient_id_text, '{patient_form}') as patient_id_text) from placed_deaths
) as p
