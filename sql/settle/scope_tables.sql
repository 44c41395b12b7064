-- What the store has of the patients to be settled anew, in temporary tables of the same names: the statements that
-- follow find those first, and need not know that they see a part alone.
--
-- creates:  scope_operations, scope_records, operations, components, revision_reasons, deaths, losses
-- reads:    operations, components, revision_reasons, deaths, losses, row_findings

create or replace temp table operations as
select o.*
from registry.operations as o
semi join scope_patients as p on p.patient_id = o.patient_id;

create or replace temp table scope_operations as
select distinct operation_id from temp.operations;

-- What was found in rows of these, and in rows that came since and were rejected, is told anew.
create or replace temp table scope_records as
select operation_id as record_id from scope_operations
union
select record_id from row_findings where place >= ($submissions::bigint + 1) * 1000000000;

create or replace temp table components as
select c.*
from registry.components as c
semi join temp.operations as o on o.version_no = c.version_no;

create or replace temp table revision_reasons as
select r.*
from registry.revision_reasons as r
semi join temp.operations as o on o.version_no = r.version_no;

create or replace temp table deaths as
select d.*
from registry.deaths as d
semi join scope_patients as p on p.patient_id = d.patient_id;

create or replace temp table losses as
select l.*
from registry.losses as l
semi join scope_patients as p on p.patient_id = l.patient_id
