-- A new form moves reasons from one word to another without anything having changed in the joints.
--
-- version:  1
-- severity: note
-- starts:   1900-01-01
-- shows:    detail
-- text:     The share of a reason among the revisions moved much from one year to the next; please say whether the
--           form or the coding changed.

measure = 'reason' and rows >= {code_rows} and abs(figure - usual) > {code_change}
