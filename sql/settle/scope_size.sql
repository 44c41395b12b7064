-- How many patients are to be settled anew, and how many of them have been looked at last.
--
-- reads:    scope_patients, scope_frontier

select (select count(*) from scope_patients) as patients, (select count(*) from scope_frontier) as at_the_edge
