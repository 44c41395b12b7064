-- The components of one implant that primaries hold, each by the number that its size or lot has in
-- queries/implant_piece_names.
--
-- grain:    line
-- reads:    component_life
-- needs:    part
-- columns:  joint_no  integer  the joint
--           piece     integer  number of the size or lot, from 0
select joint_no, (dense_rank() over (order by {part}) - 1)::integer as piece
from component_life
where in_day = 0 and implant = try_cast($implant as implant_codes)
