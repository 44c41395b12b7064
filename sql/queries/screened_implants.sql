-- The components that primaries hold, each by the number of its implant in this cut's list.
--
-- grain:    line
-- reads:    component_life
-- columns:  joint_no  integer   the joint
--           role      utinyint  place of its role in the list of roles
--           unit      integer   place of its implant in the list of implants
select joint_no, enum_code(role) as role, enum_code(implant)::integer as unit
from component_life
where in_day = 0
