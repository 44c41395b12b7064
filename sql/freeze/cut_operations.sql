-- The operations that count in this cut, and their patients.
--
-- creates:  cut_operations, cut_patients

create or replace temp table cut_operations as
select * from standing_operations where operation_date <= $through;

create or replace temp table cut_patients as
select
    row_number() over (order by patient_id) - 1 as patient_no,
    patient_id,
    arg_min(birth_year, row(operation_date, operation_id)) as birth_year,
    coalesce(
        arg_min(sex, row(operation_date, operation_id)) filter (where sex <> 'not recorded'), 'not recorded'
    ) as sex
from cut_operations
group by patient_id
