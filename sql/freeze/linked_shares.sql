-- Revisions that count and those of them that are linked, in the cut before and in the one to be made.
--
-- grain:    one row
-- reads:    previous.links, settled_links, standing_operations

select
    (select count(*) from previous.links) as revisions_before,
    (select count(primary_operation_id) from previous.links) as linked_before,
    count(*) as revisions,
    count(l.primary_operation_id) as linked
from settled_links as l
semi join standing_operations as o on o.operation_id = l.operation_id and o.operation_date <= $through
