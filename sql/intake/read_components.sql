-- Components with each cell as text and as a value, the operation they belong to, and what is wrong with the label.
--
-- creates:  read_components
-- needs:    role, component_action

create or replace temp table read_components as
select
    p.*,
    p.operation_id_text as record_id,
    o.version_no as parent_no,
    coalesce(o.is_rejected, false) as parent_is_rejected,
    o.operation_date as parent_date,
    l.fault as label_fault,
    try_cast(whole_number(line_no_text) as smallint) as line_no,
    {role} as role,
    {component_action} as action,
    catalogue_no_text as catalogue_no,
    lot_text as lot,
    serial_text as serial,
    iso_date(expiry_date_text) as expiry_date,
    udi_text as udi
from placed_components as p
left join operation_parents as o on o.submission_no = p.submission_no and o.operation_id = p.operation_id_text
left join labels_read as l on l.raw = p.udi_text and l.seen = year(p.known_from)
