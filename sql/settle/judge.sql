-- One rule applied to the rows it judges.
--
-- writes:   {findings}
-- needs:    findings, relation, shows, predicate, day

insert into {findings}
select $table_name, place, record_id, known_from, $rule, $rule_version, $severity, ({shows})::varchar, $text
from {relation}
where {day} >= $starts and known_from >= $rows_from and known_from < $rows_to and ({predicate})
