-- Held revisions that belong to one joint as far as can be told.
--
-- grain:    operation_id
-- reads:    held_revisions
-- columns:  operation_id  varchar  operation record
--           rule          varchar  first rule that holds it
select operation_id, rule from held_revisions where joint_no = $joint_no order by operation_id
