-- Patients with more than one joint in a cohort.
--
-- grain:    patient_no
-- reads:    follow_up
-- needs:    predicate
-- columns:  patient_no  integer  dense number of the patient in this cut
select patient_no
from follow_up
where {predicate}
group by patient_no
having count(*) > 1
