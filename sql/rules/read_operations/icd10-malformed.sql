-- The diagnosis of the form is used, not the code.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    icd10_text
-- text:     The ICD-10 code is not written as a letter, two digits and, after a dot, one or two more.

icd10_text <> '' and not coalesce(icd10_is_formed, false)
