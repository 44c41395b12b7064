-- Reasons for revision with each cell as text and as a value, and the operation they belong to.
--
-- creates:  read_reasons
-- needs:    reason

create or replace temp table read_reasons as
select
    p.*,
    p.operation_id_text as record_id,
    o.version_no as parent_no,
    coalesce(o.is_rejected, false) as parent_is_rejected,
    o.joint as parent_joint,
    try_cast(whole_number(line_no_text) as smallint) as line_no,
    {reason} as reason,
    yes_no(leads_text) as leads,
    note_text as note
from placed_reasons as p
left join operation_parents as o on o.submission_no = p.submission_no and o.operation_id = p.operation_id_text
