-- What the catalogue says of the components put in at each primary. Two implants name a construct; one
-- does where it needs no second.
--
-- creates:  implants_found, primary_implants

create or replace temp table implants_found as
with told as (
    select
        c.version_no,
        min(k.implant) filter (where n.name_no = 1) as first_implant,
        min(k.implant) filter (where n.name_no = 2) as second_implant,
        bool_or(n.is_alone) as is_alone,
        case
            when min(k.class) = max(k.class) then min(k.class)
            when min(k.class) <> max(k.class) then 'both classes'
        end as catalogue_class,
        case when min(k.bearing) = max(k.bearing) then min(k.bearing) end as catalogue_bearing,
        case when min(k.constraint_design) = max(k.constraint_design) then min(k.constraint_design) end
            as catalogue_constraint,
        arg_min(k.couple_material, k.couple_rank) filter (where k.couple_side = 'head') as head_material,
        arg_min(k.couple_material, k.couple_rank) filter (where k.couple_side = 'liner') as liner_material,
        min(k.head_size) as head_size,
        min(k.humeral_design) as humeral_design
    from components as c
    join known_entries as k on k.catalogue_no = c.catalogue_no
    join known_operations as o on o.version_no = c.version_no
    left join naming_roles as n on n.joint = o.joint and n.class = o.class and n.role = k.role
    where c.action = 'implanted' and o.kind = 'primary'
        -- No condition to join on: the database might pair all operations of a joint with all entries for it.
        and coalesce(k.joint = o.joint, false)
    group by c.version_no
)
select
    * exclude (is_alone),
    coalesce(first_implant || '/' || second_implant, case when is_alone then first_implant end) as construct
from told;

create or replace temp view primary_implants as
select * from implants_found
