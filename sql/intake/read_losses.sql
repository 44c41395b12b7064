-- Patients who left the register, with each cell as text and as a value.
--
-- creates:  read_losses
-- needs:    patient_form, loss

create or replace temp table read_losses as
select
    p.*,
    patient_id_text as record_id,
    case when regexp_full_match(patient_id_text, '{patient_form}') then patient_id_text end as patient_id,
    iso_date(loss_date_text) as loss_date,
    {loss} as loss
from (
    select * replace (shown_pseudonym(patient_id_text, '{patient_form}') as patient_id_text) from placed_losses
) as p
