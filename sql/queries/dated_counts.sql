-- Joints by group, date of implantation, day and outcome: what rates in calendar windows are made from. Joints come
-- from the query that an endpoint is counted by, one a row, each with its date as whole days since 1970-01-01.
--
-- grain:    the grouping columns, implanted, day, outcome
-- reads:    follow_up
-- needs:    joints
-- columns:  implanted  integer  date of implantation, whole days since 1970-01-01
--           day        integer  whole days since implantation
--           outcome    integer  as the query of its endpoint has it
--           joints     integer  joints implanted on that date that left follow-up on that day in that way
with

joints as (
    {joints}
),

dated as (
    select joints.* exclude (own_no) replace (joints.day::integer as day, joints.outcome::integer as outcome)
    from joints
)

select dated.*, count(*)::integer as joints
from dated
group by all
