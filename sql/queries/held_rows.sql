-- Rows that are held back or rejected, with the rule and what the hospital is told; all of them, or those of one
-- hospital or one rule.
--
-- grain:    submission_id, place, rule
-- reads:    held_rows
-- columns:  submission_id  varchar  the submission it came in
--           hospital_id    varchar  its sender
--           place          varchar  the file and the row in it, 1 for the first under the header, as operations:12
--           rule           varchar  name of the rule
--           severity       varchar  hold or reject
--           told           varchar  what the hospital is told of every such row
--           record_id      varchar  number of the record
--           value          varchar  what the row said, where the rule shows it and it said something
select
    submission_id,
    hospital_id,
    table_name || ':' || row_no as place,
    rule,
    severity,
    text as told,
    record_id,
    nullif(value, '') as value
from held_rows
where ($hospital::varchar is null or hospital_id = $hospital)
    and ($rule::varchar is null or rule = $rule)
order by held_rows.submission_id, held_rows.table_name, held_rows.row_no, held_rows.rule
