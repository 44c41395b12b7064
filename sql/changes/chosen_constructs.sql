-- The joints of one cut whose construct was chosen, and which it is: its role and its code, a tab between them. Run with
-- that cut as the current database.
--
-- creates:  chosen_units
-- reads:    follow_up

create or replace temp table chosen_units as
select joint_no, 'construct' || chr(9) || construct::varchar as units
from follow_up
where list_contains($codes::varchar[], construct::varchar)
