-- Note that a part was made.
--
-- writes:   office_parts
insert into office_parts (part, made_by, made_at) values (:part, :made_by, :made_at)
