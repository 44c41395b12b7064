-- What was settled anew of some patients, together with what stands of all others since the store was last settled.
--
-- creates:  scope_versions, known_operations, primary_implants, versions_operations, revisions_and_primaries
-- writes:   findings_of_records
-- reads:    operations, operation_versions, record_findings, implants_of_primaries, revision_facts
-- needs:    revision_columns

drop table temp.components;
drop table temp.revision_reasons;
drop table temp.deaths;
drop table temp.losses;

create or replace temp table scope_versions as
select version_no from temp.operations;

drop table temp.operations;

create or replace temp table versions_operations as
select * from versions_operations
union all
select v.*
from registry.operation_versions as v
anti join scope_operations as s on s.operation_id = v.operation_id;

create or replace temp view known_operations as
select
    o.version_no, o.submission_no, o.row_no, o.known_from, o.operation_id, o.patient_id, o.birth_year, o.sex, o.joint,
    o.side, o.operation_date, o.hospital_id, o.surgeon_id, o.kind, o.stage, o.class, o.compartment
from registry.operations as o
anti join versions_operations as v on v.version_no = o.version_no and v.standing <> 'current';

insert into findings_of_records
select f.*
from registry.record_findings as f
anti join scope_operations as s on s.operation_id = f.record_id and f.table_name <> 'deaths'
anti join scope_patients as p on p.patient_id = f.record_id and f.table_name = 'deaths';

create or replace temp view primary_implants as
select * from implants_found
union all
select i.*
from registry.implants_of_primaries as i
anti join scope_versions as s on s.version_no = i.version_no;

create or replace temp table revisions_and_primaries as
select {revision_columns} from revisions_and_primaries
union all
select {revision_columns}
from registry.revision_facts as r
anti join scope_patients as p on p.patient_id = r.patient_id
