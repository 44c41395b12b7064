-- What a revision did has no meaning on a primary and is left out.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    concat_ws(', ', nullif(stage_text, ''), nullif(action_text, ''))
-- text:     A primary names a stage or an action of revision; they were left out.

kind = 'primary' and (stage_text <> '' or action_text not in ('', 'not-recorded', 'not recorded'))
