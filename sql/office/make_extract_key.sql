-- Make the key of extracts, unless somebody has.
--
-- writes:   extract_keys
insert into extract_keys (number, key, made_at) values (1, :key, :made_at) on conflict do nothing
