-- Operations shortly before the death of their patient.
--
-- creates:  operations_near_death

create or replace temp table operations_near_death as
select o.version_no as place, o.operation_id as record_id, o.known_from, o.operation_date, d.death_date
from standing_operations as o
join standing_deaths as d on d.patient_id = o.patient_id
where d.death_date between o.operation_date and o.operation_date + to_days($death_soon_days)
