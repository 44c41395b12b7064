-- All that rules find, begun with what they found in single rows when those were taken in.
--
-- creates:  findings

create or replace temp table findings as
select * from row_findings where known_from <= $as_of
