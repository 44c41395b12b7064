-- A rule that was changed or left out judges no row received from a day on.
--
-- writes:   rules

update rules set rows_to = $begins
where relation = $relation and rule = $rule and rows_to is null and in_force_to is null
