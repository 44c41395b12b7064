-- Held revisions that belong to one joint as far as can be told, with what their hospital is told.
--
-- grain:    operation_id
-- reads:    held_revisions, held_rows
-- columns:  operation_id  varchar  operation record
--           rule          varchar  first rule that holds it
--           text          varchar  what the hospital is told; the rule's name where the row is not listed
select
    held_revisions.operation_id,
    held_revisions.rule,
    coalesce(min(held_rows.text), held_revisions.rule) as text
from held_revisions
left join held_rows
    on held_rows.table_name = 'operations'
    and held_rows.record_id = held_revisions.operation_id
    and held_rows.rule = held_revisions.rule
where held_revisions.joint_no = $joint_no
group by held_revisions.operation_id, held_revisions.rule
order by held_revisions.operation_id
