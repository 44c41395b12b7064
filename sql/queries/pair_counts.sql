-- Pairs of joints of one patient in a cohort, by the groups, days and outcomes of both: what tells how far the
-- joints of one patient resemble each other. A patient with two joints is one pair; one with more gives every two.
-- Joints come from the query that an endpoint is counted by, each with its patient_no, and with its joint_no as own_no.
--
-- grain:    the grouping columns, days and outcomes of both joints
-- reads:    follow_up
-- needs:    joints, groups
-- columns:  day            integer  whole days since implantation, of the joint with the lower number
--           outcome        integer  as the query of its endpoint has it
--           other_day      integer  of the other joint
--           other_outcome  integer  of the other joint
--           pairs          integer  pairs of joints that left follow-up on those days in those ways
with

joints as (
    {joints}
),

pairs as (
    select
        {groups}
        joints.day::integer as day,
        joints.outcome::integer as outcome,
        others.day::integer as other_day,
        others.outcome::integer as other_outcome
    from joints
    inner join joints as others on others.patient_no = joints.patient_no and others.own_no > joints.own_no
)

select pairs.*, count(*)::integer as pairs
from pairs
group by all
