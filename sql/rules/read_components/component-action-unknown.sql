-- In or out decides when its life begins and ends.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    action_text
-- text:     The action is missing or not in the code list; it is implanted or removed.

action is null
