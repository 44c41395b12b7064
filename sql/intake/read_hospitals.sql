-- Hospitals with each cell as text and as a value.
--
-- creates:  read_hospitals

create or replace temp table read_hospitals as
select
    p.*,
    hospital_id_text as record_id,
    hospital_id_text as hospital_id,
    coalesce(nullif(region_text, ''), 'not recorded') as region,
    iso_date(active_from_text) as active_from,
    iso_date(active_to_text) as active_to
from placed_hospitals as p
