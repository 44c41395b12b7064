-- The operations that a hospital must look at again, each in the newest submission in which a rule found something in a
-- row of it: what keeps rows from being counted, or, of operations without that, warnings alone. A row whose operation
-- cannot be told stands for itself.
--
-- creates:  returned_rows, returned_records

create or replace temp table returned_rows as
select submission_id, table_name, row_no, record_id, rule, text, value, true as must
from held_rows
where hospital_id = $hospital and table_name in ('operations', 'components', 'reasons')
union all
select submission_id, table_name, row_no, record_id, rule, text, value, false as must
from noted_rows
where hospital_id = $hospital and table_name in ('operations', 'components', 'reasons') and severity = 'warn';

create or replace temp table returned_records as
select r.record_id, arg_max(s.submission_no, s.sequence) as submission_no, bool_or(r.must) as must
from returned_rows as r
join submissions as s on s.submission_id = r.submission_id
group by r.record_id
