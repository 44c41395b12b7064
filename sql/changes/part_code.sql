-- What an implant's size or lot is called.
--
-- grain:    line
-- reads:    component_life
-- needs:    part
implant::varchar || ' {part} ' || {part}
