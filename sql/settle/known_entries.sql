-- The catalogue as rules and links use it: a word only where the entry decides the matter, and
-- which of the two names that a construct is made of the entry gives.
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
    nullif(k.bearing, 'not recorded') as bearing,
    case when k.constraint_design not in ('not recorded', 'not applicable') then k.constraint_design end
        as constraint_design,
    k.size,
    k.introduced_date,
    n.name_no
from known_catalogue as k
left join naming_roles as n on n.joint = k.joint and n.role = k.role
