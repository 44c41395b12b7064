-- Systems are compared, and a system that is not named is in no comparison.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    technology
-- text:     The robot or navigation system used is not named; please send its code.

technology in ('robot-assisted', 'navigated') and technology_system_text = ''
