-- What was settled of all records, for the next time: then only patients are settled of whom something new is known.
--
-- writes:   held_rows, noted_rows, record_findings, operation_versions, implants_of_primaries, revision_facts
-- needs:    revision_columns

delete from held_rows;
insert into held_rows select * from findings_told where severity in ('reject', 'hold');

delete from noted_rows;
insert into noted_rows select * from findings_told where severity not in ('reject', 'hold');

delete from record_findings;
insert into record_findings select * from findings_of_records;

delete from operation_versions;
insert into operation_versions select * from versions_operations;

delete from implants_of_primaries;
insert into implants_of_primaries select * from implants_found;

delete from revision_facts;
insert into revision_facts select {revision_columns} from revisions_and_primaries
