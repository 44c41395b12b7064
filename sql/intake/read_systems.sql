-- Robot and navigation systems of hospitals, with each cell as text and as a value.
--
-- creates:  read_systems

create or replace temp table read_systems as
select
    p.*,
    concat_ws(' ', hospital_id_text, technology_system_text) as record_id,
    hospital_id_text as hospital_id,
    technology_system_text as technology_system,
    iso_date(active_from_text) as active_from,
    iso_date(active_to_text) as active_to
from placed_systems as p
