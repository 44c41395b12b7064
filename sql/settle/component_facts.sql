-- Components that something may be wrong with: not in the catalogue, or of an operation that is
-- not accepted.
--
-- creates:  component_facts

create or replace temp table component_facts as
select
    o.submission_no::bigint * 1000000000 + c.row_no as place,
    o.operation_id as record_id,
    o.known_from,
    c.catalogue_no,
    k.catalogue_no is not null as is_in_catalogue,
    e.operation_end
from components as c
join known_operations as o on o.version_no = c.version_no
left join known_entries as k on k.catalogue_no = c.catalogue_no
left join operation_ends as e on e.version_no = c.version_no
where k.catalogue_no is null or e.operation_end is not null
