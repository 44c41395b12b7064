-- Deaths and losses of the patients of joints, and from when on each was known as it stands.
--
-- grain:    joint, end
-- reads:    follow_up, deaths, losses
-- columns:  joint_no  integer  the joint
--           day       integer  day of the death or loss, since 1970
--           known     integer  day from which it was known, since 1970
select
    follow_up.joint_no,
    (ends.day - date '1970-01-01')::integer as day,
    (ends.known_from - date '1970-01-01')::integer as known
from (
    select patient_id, death_date as day, known_from from deaths
    union all
    select patient_id, loss_date as day, known_from from losses
) as ends
inner join follow_up on follow_up.patient_id = ends.patient_id
