-- One rule applied to the submissions it judges.
--
-- needs:    shows, predicate

select submission_id, hospital_id, $rule, $rule_version, $severity, ({shows})::varchar, $text
from corrected_submissions
where known_from >= $starts and known_from >= $rows_from and known_from < $rows_to and ({predicate})
order by submission_id
