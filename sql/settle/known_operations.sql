-- The operations as known at a date: standing versions, held ones included. Only what rules and
-- links read is copied; what the patient was like and what was done is looked up at the end.
--
-- creates:  chosen_operations, known_operations

create or replace temp table chosen_operations as
select
    o.version_no, o.submission_no, o.row_no, o.known_from, o.operation_id, o.patient_id, o.birth_year, o.sex, o.joint,
    o.side, o.operation_date, o.hospital_id, o.surgeon_id, o.kind, o.stage, o.class, o.compartment
from operations as o
left join versions_operations as v on v.version_no = o.version_no
where o.known_from <= $as_of and coalesce(v.standing, 'current') = 'current';

create or replace temp view known_operations as
select * from chosen_operations
