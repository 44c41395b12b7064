-- Rows that the store holds of what goes back, under the submission and the row of the file they came in.
--
-- creates:  kept_operations, kept_components, kept_reasons

create or replace temp table kept_operations as
select o.*
from operations as o
join returned_records as r on r.record_id = o.operation_id and r.submission_no = o.submission_no;

create or replace temp table kept_components as
select o.submission_no, o.operation_id, c.* exclude (version_no)
from components as c
join kept_operations as o on o.version_no = c.version_no;

create or replace temp table kept_reasons as
select o.submission_no, o.operation_id, c.* exclude (version_no)
from revision_reasons as c
join kept_operations as o on o.version_no = c.version_no
