-- Whether a joint of follow_up holds one of the chosen units.
--
-- grain:    joint
-- reads:    chosen_units
joint_no in (select joint_no from chosen_units)
