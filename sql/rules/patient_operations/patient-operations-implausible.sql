-- A pseudonym used for several people shows here.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    kind || ' ' || case kind when 'primary' then nth else in_window end
-- text:     The patient has more than {primaries_per_joint} primaries of one joint, or more than
--           {revisions_in_window} revisions in {revision_window_days} days; please check the pseudonym.

(kind = 'primary' and nth > {primaries_per_joint}) or (kind = 'revision' and in_window > {revisions_in_window})
