-- The episodes go to the cut, with what they did to the joint.
--
-- writes:   revision_episodes

insert into cut.revision_episodes by name
select
    e.*,
    e.stage = 'first of two' and e.restart_day > f.followed_days and f.followed_end <> 'died' as stage_open,
    e.reason_group = 'infection' as septic,
    t.* exclude (operation_id)
from episodes as e
join cut.follow_up as f on f.joint_no = e.joint_no
join episode_facts as t on t.operation_id = e.operation_id
order by e.joint_no, e.sequence
