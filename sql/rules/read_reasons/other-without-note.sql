-- What "other" was can be learned from the note alone.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- text:     The reason is other, and the form does not say what; please add a note.

reason = 'other' and note_text = ''
