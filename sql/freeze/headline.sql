-- What a manifest counts.

select count(*), count(distinct patient_no), count(*) filter (where ended = 'revised') from follow_up
