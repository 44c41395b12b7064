-- The joints of this cut: primaries whose follow-up has begun by the date up to which their own
-- hospital's feed and the deaths feed are complete. Without a deaths feed it sets no limit.
--
-- creates:  joints

create or replace temp table joints as
with limited as (
    select
        o.version_no, o.operation_id, o.patient_id, o.joint, o.side, o.class, o.operation_date,
        least(
            $through,
            c.complete_through,
            (select max(complete_through) from complete_through where kind = 'deaths')
        ) as limit_date
    from cut_operations as o
    join complete_through as c on c.kind = 'operations' and c.sender = o.hospital_id
    where o.kind = 'primary'
)
select
    row_number() over (order by joint, class, operation_date, patient_id, side) - 1 as joint_no,
    patient_id || '-' || upper(joint[1]) || upper(side[1]) as joint_id,
    *
from limited
where operation_date <= limit_date
