-- Administrative counts with each cell as text and as a value.
--
-- creates:  read_admin_counts
-- needs:    joint, kind

create or replace temp table read_admin_counts as
select
    p.*,
    concat_ws(' ', hospital_id_text, joint_text, kind_text, month_text) as record_id,
    hospital_id_text as hospital_id,
    {joint} as joint,
    {kind} as kind,
    iso_date(month_text || '-01') as month,
    whole_number(operations_text) as operations
from placed_admin_counts as p
