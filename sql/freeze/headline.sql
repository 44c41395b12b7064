-- What a manifest counts.
--
-- reads:    follow_up

select count(*), count(distinct patient_no), count(*) filter (where ended = 'revised') from follow_up
