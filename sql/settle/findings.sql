-- All that rules find: in single rows, found when those were taken in, and in records beside what else is known, to
-- which the rules judged from here on add.
--
-- creates:  findings_of_rows, findings_of_records, findings

create or replace temp table findings_of_rows as
select * from row_findings where known_from <= $as_of;

create or replace temp table findings_of_records as
select * from row_findings limit 0;

create or replace temp view findings as
select * from findings_of_rows
union all
select * from findings_of_records
