-- Which of the chosen units a joint of follow_up holds: what stands for its group where moves are counted by unit.
--
-- grain:    joint
-- reads:    chosen_units
(select h.units from chosen_units as h where h.joint_no = follow_up.joint_no)
