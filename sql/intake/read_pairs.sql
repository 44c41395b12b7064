-- Implants that may be combined, with each cell as text and as a value.
--
-- creates:  read_pairs

create or replace temp table read_pairs as
select
    p.*,
    concat_ws(' ', implant_text, paired_implant_text) as record_id,
    implant_text as implant,
    paired_implant_text as paired_implant,
    try_cast(whole_number(size_steps_text) as smallint) as size_steps
from placed_pairs as p
