-- The correction log of a cut; all of it, or of one hospital, or since a date.
--
-- grain:    submission_id, record_id, table_name, line_no, field
-- reads:    corrections
-- columns:  corrected_on   date      date from which the correction was known
--           hospital       varchar   who corrected
--           submission     varchar   the submission it came in
--           record_id      varchar   operation record; of other files the pseudonym, catalogue number, unit or month
--           table_name     varchar   file without its ending
--           line_no        smallint  line in the operation; null for the operation itself
--           field          varchar   column of the file
--           old_value      varchar   what it said before
--           new_value      varchar   what it has said since
--           reason         varchar   why, where the envelope says so
--           is_counted     boolean   the record counts in this cut
select
    corrected_on, hospital_id as hospital, submission_id as submission, record_id, table_name, line_no, field,
    old_value, new_value, reason, is_counted
from corrections
where ($hospital::varchar is null or hospital_id = $hospital) and ($since::date is null or corrected_on >= $since)
order by corrected_on, submission_id, record_id, table_name, line_no, field
