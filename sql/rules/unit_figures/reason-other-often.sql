-- A reason called other tells nobody anything.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- text:     More than one in ten revisions of the year give the reason other; please use the list, or add notes.

measure = 'reason other' and rows >= {code_rows} and figure > {other_share}
