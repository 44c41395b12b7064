-- Every revision of every registered joint with the one before and the one after it: what a first revision was
-- for, and what it led to. Days to the next one are known only where there is one; this is no risk.
--
-- grain:    joint_no, sequence
-- reads:    follow_up, revision_episodes
-- columns:  joint_no             integer   the joint, as in follow_up
--           joint_id             varchar   patient pseudonym, joint and side
--           joint                varchar   knee, hip or shoulder
--           class                varchar   class of the primary
--           sequence             smallint  1 for the first revision of the joint
--           revision_date        date      date of the revision, or of its first stage
--           day                  integer   days from the primary
--           days_since_previous  integer   days from the revision before, from the primary for the first
--           stage                varchar   single, or which of two stages
--           hospital_id          varchar   hospital of the revision
--           reason_group         varchar   group of the leading reason
--           action               varchar   what was done
--           previous_action      varchar   what was done at the revision before; null for the first
--           next_reason_group    varchar   group of the next revision's leading reason; null where there is none
--           days_to_next         integer   days to the next revision; null where there is none
select
    revision_episodes.joint_no,
    follow_up.joint_id,
    follow_up.joint::varchar as joint,
    follow_up.class::varchar as class,
    revision_episodes.sequence,
    revision_episodes.revision_date,
    revision_episodes.day,
    revision_episodes.day - coalesce(lag(revision_episodes.day) over chain, 0) as days_since_previous,
    revision_episodes.stage::varchar as stage,
    revision_episodes.hospital_id::varchar as hospital_id,
    revision_episodes.reason_group::varchar as reason_group,
    revision_episodes.action::varchar as action,
    (lag(revision_episodes.action) over chain)::varchar as previous_action,
    (lead(revision_episodes.reason_group) over chain)::varchar as next_reason_group,
    lead(revision_episodes.day) over chain - revision_episodes.day as days_to_next
from revision_episodes
inner join follow_up on follow_up.joint_no = revision_episodes.joint_no
window chain as (partition by revision_episodes.joint_no order by revision_episodes.sequence)
