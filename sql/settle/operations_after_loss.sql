-- Operations dated after their patient left the register.
--
-- creates:  operations_after_loss

create or replace temp table operations_after_loss as
select o.version_no as place, o.operation_id as record_id, o.known_from, o.operation_date, l.loss_date
from standing_operations as o
join known_losses as l on l.patient_id = o.patient_id
where o.operation_date > l.loss_date
