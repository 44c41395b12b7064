-- What rules found in submitted rows, by sender, file and rule: rows held back or rejected, and rows that count and
-- were found odd.
--
-- grain:    hospital_id, table_name, rule
-- reads:    held_rows, noted_rows
-- columns:  hospital_id  varchar  who sent them
--           table_name   varchar  name of the file
--           rule         varchar  name of the rule
--           severity     varchar  reject, hold, known already, warn or note
--           told         varchar  what the hospital is told of every such row
--           found        bigint   rows that the rule found
with

found as (
    select hospital_id, table_name, rule, severity, text from held_rows
    union all
    select hospital_id, table_name, rule, severity, text from noted_rows
)

select hospital_id, table_name, rule, severity, any_value(text) as told, count(*) as found
from found
where ($senders::varchar[] is null or list_contains($senders, hospital_id))
    and not list_contains($others::varchar[], hospital_id)
group by hospital_id, table_name, rule, severity
order by hospital_id, table_name, rule, severity
