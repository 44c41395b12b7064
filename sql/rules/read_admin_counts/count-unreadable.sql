-- Completeness is counted against it.
--
-- version:  1
-- severity: reject
-- starts:   1900-01-01
-- shows:    concat_ws(', ', joint_text, kind_text, month_text, operations_text)
-- text:     Hospital, joint, kind, month (as 2024-03) or count is missing or cannot be read.

hospital_id_text = '' or joint is null or kind is null or month is null or operations is null
