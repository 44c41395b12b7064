-- What rules found in the operations of a cohort's joints, primaries and revisions, and in the components of these.
--
-- grain:    severity, table_name, rule
-- reads:    follow_up, revision_episodes, held_rows, noted_rows
-- needs:    predicate
-- columns:  severity    varchar  hold or reject for rows that are held back or not taken in, warn or note for others
--           table_name  varchar  name of the file
--           rule        varchar  name of the rule
--           told        varchar  what the hospital is told of every such row
--           found       bigint   operations with such a row
--           operations  bigint   operations of all these joints
with

chosen as (
    select joint_no, operation_id
    from follow_up
    where {predicate}
),

asked as (
    select operation_id from chosen

    union all

    select revision_episodes.operation_id
    from revision_episodes
    inner join chosen on chosen.joint_no = revision_episodes.joint_no
),

judged as (
    select record_id, table_name, rule, severity, text from held_rows
    union all
    select record_id, table_name, rule, severity, text from noted_rows
),

size as (select count(*) as operations from asked)

select
    judged.severity,
    judged.table_name,
    judged.rule,
    any_value(judged.text) as told,
    count(distinct judged.record_id) as found,
    any_value(size.operations) as operations
from judged
inner join asked on asked.operation_id = judged.record_id
cross join size
where judged.table_name in ('operations', 'components', 'reasons') and judged.severity <> 'known already'
group by judged.severity, judged.table_name, judged.rule
order by found desc, judged.rule
