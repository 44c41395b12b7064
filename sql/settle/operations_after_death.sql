-- Operations dated after the death of their patient, and those deaths.
--
-- creates:  operations_after_death, deaths_before_operation

create or replace temp table operations_after_death as
select
    o.version_no as place,
    o.operation_id as record_id,
    o.known_from,
    o.operation_date,
    o.operation_id,
    o.birth_year,
    d.death_date,
    d.version_no as death_place,
    d.patient_id,
    d.known_from as death_known_from
from standing_operations as o
join standing_deaths as d on d.patient_id = o.patient_id
where o.operation_date > d.death_date;

create or replace temp table deaths_before_operation as
select
    death_place as place,
    patient_id as record_id,
    death_known_from as known_from,
    death_date,
    max(operation_date) as operation_date,
    min(operation_id) as operation_id,
    min(birth_year) as birth_year
from operations_after_death
group by all
