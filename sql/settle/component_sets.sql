-- What an operation put in, in few numbers: how many lines it has; marks for the components that a class must have
-- (1 and 2), for cement (4) and for a component of the other side (8); how often each place of the joint is filled,
-- four bits a place; and the makers of what names it. Then the operations with it, for the rules.
--
-- creates:  role_marks, component_sets, operation_components

create or replace temp table role_marks as
select
    r.joint,
    coalesce(n.class, '') as class,
    r.role,
    case when n.is_alone then 3 else coalesce(n.name_no, 0) end | case when r.role = 'cement' then 4 else 0 end as marks,
    1::bigint << (4 * (r.place - 1)) as in_place,
    n.name_no
from roles as r
left join (
    select joint, class, role, name_no, is_alone from naming_roles
    union all
    select distinct joint, class, null, null, false from naming_roles
    union all
    select distinct joint, '', null, null, false from naming_roles
) as n on n.joint = r.joint and (n.role = r.role or n.role is null)
qualify row_number() over (partition by r.joint, n.class, r.role order by n.name_no nulls last) = 1;

create or replace temp table component_sets as
select
    c.version_no,
    count(*) as lines,
    bit_or(m.marks | case when k.side <> o.side then 8 else 0 end) filter (where c.action = 'implanted') as marks,
    sum(m.in_place) filter (where c.action = 'implanted') as places,
    min(k.maker) filter (where c.action = 'implanted' and m.name_no is not null) as first_maker,
    max(k.maker) filter (where c.action = 'implanted' and m.name_no is not null) as last_maker
from components as c
join known_operations as o on o.version_no = c.version_no
left join role_marks as m on m.joint = o.joint and m.class = coalesce(o.class, '') and m.role = c.role
left join known_catalogue as k on k.catalogue_no = c.catalogue_no and k.joint = o.joint
group by c.version_no;

create or replace temp view operation_components as
select
    o.version_no as place,
    o.operation_id as record_id,
    o.known_from,
    o.operation_date,
    o.joint,
    o.kind,
    o.class,
    v.fixation,
    v.technology_system,
    s.version_no is not null as has_components,
    coalesce(s.marks, 0) as marks,
    coalesce(s.places, 0)::bigint as places,
    s.first_maker,
    s.last_maker,
    y.hospital_id is not null as system_is_known,
    y.active_from as system_from,
    y.active_to as system_to
from known_operations as o
join operations as v on v.version_no = o.version_no
left join component_sets as s on s.version_no = o.version_no
left join known_hospital_systems as y
    on y.hospital_id = o.hospital_id and y.technology_system = v.technology_system
