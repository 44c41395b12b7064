-- Every revision of one joint, in order.
--
-- grain:    sequence
-- reads:    revision_episodes
-- columns:  sequence      smallint  1 for the first
--           operation_id  varchar   operation record
--           day           integer   days from the primary
--           stage         varchar   single, or which of two stages
--           hospital_id   varchar   hospital of the revision
--           surgeon_id    varchar   responsible surgeon of the revision
--           reason        varchar   leading reason; its group where the detail is not recorded
--           action        varchar   what was done
--           extras        varchar   extras used, with commas between; empty where none
select
    sequence,
    operation_id,
    day,
    stage::varchar as stage,
    hospital_id::varchar as hospital_id,
    surgeon_id::varchar as surgeon_id,
    coalesce(reason::varchar, reason_group::varchar) as reason,
    action::varchar as action,
    concat_ws(
        ', ',
        case when stem_used then 'stem' end,
        case when augment_used then 'augment' end,
        case when graft_used then 'graft' end
    ) as extras
from revision_episodes
where joint_no = $joint_no
order by sequence
