-- What the catalogue says of the components put in at each primary.
--
-- creates:  primary_implants

create or replace temp table primary_implants as
select
    c.version_no,
    min(k.implant) filter (where k.name_no = 1) as first_implant,
    min(k.implant) filter (where k.name_no = 2) as second_implant,
    case when min(k.class) = max(k.class) then min(k.class) when min(k.class) <> max(k.class) then 'both classes' end
        as catalogue_class,
    case when min(k.bearing) = max(k.bearing) then min(k.bearing) end as catalogue_bearing,
    case when min(k.constraint_design) = max(k.constraint_design) then min(k.constraint_design) end
        as catalogue_constraint
from components as c
join known_entries as k on k.catalogue_no = c.catalogue_no
join known_operations as o on o.version_no = c.version_no and o.joint = k.joint
where c.action = 'implanted' and o.kind = 'primary'
group by c.version_no
