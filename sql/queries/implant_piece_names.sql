-- The sizes or lots of one implant that primaries hold, in the order of their numbers in queries/implant_pieces; the
-- name of those that are not recorded is empty.
--
-- grain:    piece
-- reads:    component_life
-- needs:    part
-- columns:  piece  varchar  size or lot
select {part} as piece
from component_life
where in_day = 0 and implant = try_cast($implant as implant_codes)
group by {part}
order by {part}
