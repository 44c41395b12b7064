-- A page of the rows that rules found, with what the hospital is told. A patient's number is never among it: neither
-- the record's where records are of patients, nor what a cell said where it was one.
--
-- grain:    submission_id, table_name, row_no, rule
-- reads:    held_rows, noted_rows
-- needs:    order
-- columns:  submission_id  varchar  the submission it came in
--           table_name     varchar  name of the file
--           row_no         integer  row in its file, 1 for the first under the header
--           rule           varchar  name of the rule
--           severity       varchar  reject, hold, known already, warn or note
--           hospital_id    varchar  who sent it
--           record_id      varchar  number of the operation, the catalogue entry or the unit; null for a patient's
--           value          varchar  what the row said, where the rule shows it and it is no patient's number
--           told           varchar  what the hospital is told of every such row
with

found as (
    select * from held_rows
    union all by name
    select * from noted_rows
)

select
    submission_id,
    table_name,
    row_no,
    rule,
    severity,
    hospital_id,
    case when table_name not in ('deaths', 'losses') then record_id end as record_id,
    case when rule <> 'patient-form' then nullif(value, '') end as value,
    text as told
from found
where ($senders::varchar[] is null or list_contains($senders, hospital_id))
    and not list_contains($others::varchar[], hospital_id)
    and ($rule::varchar is null or rule = $rule)
    and ($table::varchar is null or table_name = $table)
order by {order}
limit $most offset $skipped
