-- Operations of patients who have many, each with its number in order: among the patient's primaries of that joint,
-- both sides together, or among the revisions of all joints within the window that ends with it.
--
-- creates:  patient_operations

create or replace temp table patient_operations as
with busy as (
    select patient_id
    from standing_operations
    group by patient_id
    having count(*) > least($primaries_per_joint, $revisions_in_window)
)
select
    o.version_no as place,
    o.operation_id as record_id,
    o.known_from,
    o.operation_date,
    o.kind,
    row_number() over (partition by o.patient_id, o.joint, o.kind order by o.operation_date, o.operation_id) as nth,
    count(*) over (
        partition by o.patient_id, o.kind order by o.operation_date
        range between to_days($revision_window_days) preceding and current row
    ) as in_window
from standing_operations as o
semi join busy as b on b.patient_id = o.patient_id
