-- Patients of whom something new is known since the store was last settled: operations, a death, a loss, what the
-- catalogue says of their components or the office of their hospitals and surgeons. Whether a first stage stands open
-- depends on the day. And the names that a component's catalogue number goes by or went by, for those who share one.
--
-- creates:  scope_patients, scope_frontier, device_names
-- reads:    operations, components, deaths, losses

create or replace temp table scope_patients as
select patient_id from registry.operations where submission_no > $submissions
union
select patient_id from registry.deaths where submission_no > $submissions
union
select patient_id from registry.losses where submission_no > $submissions
union
select patient_id from registry.operations where $is_other_day and stage = 'first of two'
union
select o.patient_id
from registry.operations as o
semi join (
    select c.version_no
    from registry.components as c
    semi join changed_catalogue as k on k.catalogue_no = c.catalogue_no
) as c on c.version_no = o.version_no
union
select o.patient_id
from registry.operations as o
semi join changed_hospitals as h on h.hospital_id = o.hospital_id
union
select o.patient_id
from registry.operations as o
semi join changed_surgeons as s on s.surgeon_id = o.surgeon_id;

create or replace temp table scope_frontier as
select * from scope_patients;

create or replace temp table device_names as
select catalogue_no, list(distinct implant) as names
from (
    select catalogue_no, implant from known_catalogue
    union all
    select catalogue_no, implant from changed_catalogue
)
group by catalogue_no
