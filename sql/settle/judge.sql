-- One rule applied to the rows it judges.
--
-- writes:   {findings}
-- needs:    findings, relation, shows, predicate

insert into {findings}
select $table_name, place, record_id, known_from, $rule, $rule_version, $severity, ({shows})::varchar, $text
from {relation}
where known_from >= $starts and ({predicate})
