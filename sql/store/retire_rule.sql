-- All versions of a rule end with a day; what would have begun later never was in force.
--
-- writes:   rules

delete from rules where relation = $relation and rule = $rule and in_force_to is null and in_force_from >= $today;

update rules set in_force_to = $today where relation = $relation and rule = $rule and in_force_to is null
