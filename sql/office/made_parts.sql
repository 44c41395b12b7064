-- The parts that an office file has; the table of parts alone is there from the beginning.
--
-- grain:    part
-- reads:    office_parts
select part from office_parts
