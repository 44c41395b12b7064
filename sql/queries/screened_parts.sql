-- The components that primaries hold, each by the number that its implant and size, or its implant and lot, have in
-- queries/screened_part_names; those whose size or lot is not recorded are left out.
--
-- grain:    line
-- reads:    component_life
-- needs:    part
-- columns:  joint_no  integer   the joint
--           role      utinyint  place of its role in the list of roles
--           unit      integer   number of the implant's size or lot
with

parts as (
    select
        implant,
        {part} as part,
        row_number() over (order by implant, {part}) - 1 as unit
    from component_life
    where in_day = 0 and {part} <> ''
    group by implant, {part}
)

select
    component_life.joint_no,
    enum_code(component_life.role) as role,
    parts.unit::integer as unit
from component_life
inner join parts on parts.implant = component_life.implant and parts.part = component_life.{part}
where component_life.in_day = 0
