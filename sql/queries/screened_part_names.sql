-- The sizes or lots of each implant that primaries hold, in the order of their numbers in queries/screened_parts.
--
-- grain:    implant, part
-- reads:    component_life
-- needs:    part
-- columns:  implant  varchar  implant code
--           part     varchar  size or lot
select implant::varchar as implant, {part} as part
from component_life
where in_day = 0 and {part} <> ''
group by component_life.implant, {part}
order by component_life.implant, {part}
