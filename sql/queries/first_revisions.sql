-- The first revisions of a cohort's joints: what was done, used and taken out.
--
-- grain:    joint_no
-- reads:    follow_up, revision_episodes, component_life
-- needs:    predicate
-- columns:  joint_no       integer  the joint
--           action         integer  place of what was done in the list of actions
--           stem           integer  1 where a stem was used
--           augment        integer  1 where an augment was used
--           graft          integer  1 where bone graft was used
--           to_total       integer  1 where it became a total
--           to_reverse     integer  1 where it became a reverse shoulder
--           bearing_only   integer  1 where nothing was exchanged but bearing parts
--           bone_fixed     integer  1 where a component fixed to bone came out
--           emptied        integer  1 where all came out and none went in
--           two_stages     integer  1 where it was the first of two stages
--           taken_out      bigint   roles of the primary's components that came out, as primary_roles
--           primary_roles  bigint   roles of the components put in at the primary
with

revised as (
    select joint_no, days, action, primary_roles
    from follow_up
    where ended = 'revised' and ({predicate})
),

taken as (
    select component_life.joint_no, bit_or(1::bigint << enum_code(component_life.role)::integer) as roles
    from component_life
    inner join revised on revised.joint_no = component_life.joint_no and revised.days = component_life.out_day
    where component_life.in_day = 0
    group by component_life.joint_no
)

select
    revised.joint_no,
    enum_code(revised.action)::integer as action,
    coalesce(revision_episodes.stem_used, false)::integer as stem,
    coalesce(revision_episodes.augment_used, false)::integer as augment,
    coalesce(revision_episodes.graft_used, false)::integer as graft,
    coalesce(revision_episodes.to_total, false)::integer as to_total,
    coalesce(revision_episodes.to_reverse, false)::integer as to_reverse,
    coalesce(revision_episodes.bearing_only, false)::integer as bearing_only,
    coalesce(revision_episodes.bone_fixed_removed, false)::integer as bone_fixed,
    coalesce(revision_episodes.emptied, false)::integer as emptied,
    coalesce(revision_episodes.stage = 'first of two', false)::integer as two_stages,
    coalesce(taken.roles, 0)::bigint as taken_out,
    revised.primary_roles::bigint as primary_roles
from revised
left join revision_episodes on revision_episodes.joint_no = revised.joint_no and revision_episodes.sequence = 1
left join taken on taken.joint_no = revised.joint_no
