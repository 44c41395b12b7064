-- What is total already cannot be made so: the primary was another, or the action is.
--
-- version:  1
-- severity: hold
-- starts:   1900-01-01
-- shows:    action
-- text:     The revision is said to convert the joint to what its primary already was; please check action, patient
--           and side.

earlier_revisions = 0
and (
    (action in ('partial to total', 'hemi to total') and primary_class = 'total')
    or (action = 'anatomic to reverse' and primary_class = 'reverse')
)
