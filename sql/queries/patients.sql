-- The patient of each joint of a cohort. Counting distinct dense numbers in a bitmap takes a
-- tenth of the time of count(distinct ...), and every answer carries this count.
--
-- grain:    none; a patient with two joints comes twice
-- reads:    follow_up
-- needs:    predicate
-- columns:  patient_no  integer  dense number of the patient in this cut
select patient_no from follow_up where {predicate}
