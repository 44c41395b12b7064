-- How many rows that count a rule would take out, were it to judge those received before it too.
--
-- reads:    findings
-- needs:    relation, predicate, day

select count(distinct r.place)
from (from {relation} where {day} >= $starts and known_from < $rows_from and ({predicate})) as r
anti join findings as f
    on f.table_name = $table_name and f.place = r.place and f.severity in ('reject', 'hold', 'known already')
