-- What was settled anew of some patients takes the place of what was settled of them before.
--
-- writes:   held_rows, noted_rows, record_findings, operation_versions, implants_of_primaries, revision_facts
-- needs:    revision_columns

delete from held_rows
where table_name not in ('operations', 'components', 'reasons') or record_id in (select record_id from scope_records);
insert into held_rows select * from findings_told where severity in ('reject', 'hold');

delete from noted_rows
where table_name not in ('operations', 'components', 'reasons') or record_id in (select record_id from scope_records);
insert into noted_rows select * from findings_told where severity not in ('reject', 'hold');

delete from record_findings
where (table_name <> 'deaths' and record_id in (select operation_id from scope_operations))
    or (table_name = 'deaths' and record_id in (select patient_id from scope_patients));
insert into record_findings
select f.*
from findings_of_records as f
where (f.table_name <> 'deaths' and f.record_id in (select operation_id from scope_operations))
    or (f.table_name = 'deaths' and f.record_id in (select patient_id from scope_patients));

delete from operation_versions where operation_id in (select operation_id from scope_operations);
insert into operation_versions
select v.*
from versions_operations as v
semi join scope_operations as s on s.operation_id = v.operation_id;

delete from implants_of_primaries where version_no in (select version_no from scope_versions);
insert into implants_of_primaries select * from implants_found;

delete from revision_facts where patient_id in (select patient_id from scope_patients);
insert into revision_facts
select {revision_columns}
from revisions_and_primaries as r
semi join scope_patients as p on p.patient_id = r.patient_id
