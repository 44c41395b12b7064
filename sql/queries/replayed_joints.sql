-- From when on each joint's primary was known as it stands. A record that was corrected where a screen reads it counts
-- from its correction on, and else from its first receipt.
--
-- grain:    joint
-- reads:    follow_up, operations, corrections
-- columns:  joint_no   integer        the joint
--           implanted  integer        day of the primary, since 1970
--           known      integer        day from which it was known, since 1970
--           corrected  boolean        it counts from a correction on
--           hospital   integer        number of its hospital in the cut's list
with

corrected as (
    select record_id, max(corrected_on) as corrected_on
    from corrections
    where
        (
            table_name = 'operations'
            and field in (
                'patient_id', 'birth_year', 'sex', 'joint', 'side', 'operation_date', 'hospital_id', 'kind', 'class'
            )
        )
        or (
            table_name = 'components'
            and (field in ('role', 'action', 'catalogue_no') or ($lots::boolean and field = 'lot'))
        )
    group by record_id
)

select
    follow_up.joint_no,
    (follow_up.implanted_date - date '1970-01-01')::integer as implanted,
    (greatest(operations.first_received, corrected.corrected_on) - date '1970-01-01')::integer as known,
    coalesce(corrected.corrected_on > operations.first_received, false) as corrected,
    enum_code(follow_up.hospital_id)::integer as hospital
from follow_up
inner join operations on operations.operation_id = follow_up.operation_id
left join corrected on corrected.record_id = follow_up.operation_id
