-- Components with what the catalogue says of them and what became of their operation.
--
-- creates:  component_facts

create or replace temp view component_facts as
select
    o.submission_no::bigint * 1000000000 + c.row_no as place,
    o.operation_id as record_id,
    o.known_from,
    o.operation_date,
    o.joint,
    c.role,
    c.action,
    c.catalogue_no,
    c.udi,
    k.catalogue_no is not null as is_in_catalogue,
    k.joint as catalogue_joint,
    k.introduced_date,
    k.withdrawn_date,
    k.gtin14 as catalogue_gtin,
    e.operation_end
from components as c
join known_operations as o on o.version_no = c.version_no
left join known_entries as k on k.catalogue_no = c.catalogue_no
left join operation_ends as e on e.version_no = c.version_no
