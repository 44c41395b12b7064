-- The catalogue as rules and links use it: a word only where the entry decides the matter, and what the
-- entry gives of the two parts that slide on each other, of the head's size in whole millimetres and of
-- the humeral design.
--
-- creates:  known_entries

create or replace temp table known_entries as
select
    k.catalogue_no,
    k.implant,
    k.maker,
    k.role,
    k.joint,
    k.class,
    case when k.bearing not in ('not recorded', 'not applicable') then k.bearing end as bearing,
    case when k.constraint_design not in ('not recorded', 'not applicable') then k.constraint_design end
        as constraint_design,
    k.size,
    k.introduced_date,
    k.withdrawn_date,
    lpad(nullif(k.gtin, ''), 14, '0') as gtin14,
    r.couple_side,
    r.couple_rank,
    case when r.couple_side is not null then k.material end as couple_material,
    case when r.couple_side = 'head' then try_cast(regexp_extract(k.size, '^([0-9]{2})([^0-9]|$)', 1) as utinyint) end
        as head_size,
    r.humeral_design
from known_catalogue as k
left join roles as r on r.joint = k.joint and r.role = k.role
