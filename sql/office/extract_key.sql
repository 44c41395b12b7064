-- The key of extracts, where there is one.
--
-- grain:    number
-- reads:    extract_keys
select key from extract_keys
