-- Reasons of operations that are not accepted.
--
-- creates:  reason_facts

create or replace temp table reason_facts as
select
    o.submission_no::bigint * 1000000000 + r.row_no as place,
    o.operation_id as record_id,
    o.known_from,
    e.operation_end
from revision_reasons as r
join known_operations as o on o.version_no = r.version_no
join operation_ends as e on e.version_no = r.version_no
