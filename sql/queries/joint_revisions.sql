-- Every revision of one joint, in order.
--
-- grain:    sequence
-- reads:    revision_episodes, revision_reasons
-- columns:  sequence      smallint  1 for the first
--           operation_id  varchar   operation record
--           day           integer   days from the primary
--           stage         varchar   single, or which of two stages
--           hospital_id   varchar   hospital of the revision
--           surgeon_id    varchar   responsible surgeon of the revision
--           reason        varchar   leading reason; its group where the detail is not recorded
--           action        varchar   what was done
--           extras        varchar   extras used, with commas between; empty where none
--           also          varchar   reasons beside the leading one, with semicolons between; null where none
with

others as (
    select
        revision_reasons.operation_id,
        string_agg(revision_reasons.reason::varchar, '; ' order by revision_reasons.line_no) as also
    from revision_reasons
    inner join revision_episodes
        on revision_episodes.operation_id = revision_reasons.operation_id
        and revision_episodes.joint_no = $joint_no
        and revision_episodes.reason is distinct from revision_reasons.reason
    group by revision_reasons.operation_id
)

select
    revision_episodes.sequence,
    revision_episodes.operation_id,
    revision_episodes.day,
    revision_episodes.stage::varchar as stage,
    revision_episodes.hospital_id::varchar as hospital_id,
    revision_episodes.surgeon_id::varchar as surgeon_id,
    coalesce(revision_episodes.reason::varchar, revision_episodes.reason_group::varchar) as reason,
    revision_episodes.action::varchar as action,
    concat_ws(
        ', ',
        case when revision_episodes.stem_used then 'stem' end,
        case when revision_episodes.augment_used then 'augment' end,
        case when revision_episodes.graft_used then 'graft' end
    ) as extras,
    others.also
from revision_episodes
left join others on others.operation_id = revision_episodes.operation_id
where revision_episodes.joint_no = $joint_no
order by revision_episodes.sequence
