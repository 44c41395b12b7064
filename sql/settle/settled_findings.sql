-- What rules have to say about rows that still stand. A rejected row is left out, with its components and reasons,
-- once its record came in well-formed later.
--
-- creates:  findings_told, settled_findings
-- needs:    findings

create or replace temp table findings_told as
select
    s.submission_id,
    s.sender as hospital_id,
    f.table_name,
    (f.place % 1000000000)::integer as row_no,
    f.record_id,
    f.rule,
    f.rule_version,
    f.severity,
    f.value,
    f.text
from {findings} as f
join submissions as s on s.submission_no = f.place // 1000000000
anti join (select operation_id, submission_no from versions_operations where standing <> 'current') as v
    on v.operation_id = f.record_id and v.submission_no = f.place // 1000000000
    and f.table_name in ('operations', 'components', 'reasons')
anti join (select table_name, place from feed_versions where standing <> 'current') as d
    on d.table_name = f.table_name and d.place = f.place
anti join known_operations as k
    on f.table_name in ('operations', 'components', 'reasons')
    and k.operation_id = f.record_id and k.known_from > f.known_from;

create or replace temp view settled_findings as
select * from findings_told
