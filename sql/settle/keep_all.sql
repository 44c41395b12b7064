-- What was settled of all patients, for the next time: then only those are settled of whom something new came.
--
-- writes:   record_findings, operation_versions, implants_of_primaries, revision_facts
-- needs:    revision_columns

delete from record_findings;
insert into record_findings select * from findings_of_records;

delete from operation_versions;
insert into operation_versions select * from versions_operations;

delete from implants_of_primaries;
insert into implants_of_primaries select * from implants_found;

delete from revision_facts;
insert into revision_facts select {revision_columns} from revisions_and_primaries
