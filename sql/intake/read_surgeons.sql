-- Surgeons with each cell as text and as a value.
--
-- creates:  read_surgeons

create or replace temp table read_surgeons as
select
    p.*,
    surgeon_id_text as record_id,
    surgeon_id_text as surgeon_id,
    iso_date(active_from_text) as active_from,
    iso_date(active_to_text) as active_to
from placed_surgeons as p
