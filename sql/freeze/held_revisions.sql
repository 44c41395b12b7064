-- Revisions that are held, with the joint they would belong to.
--
-- writes:   held_revisions

insert into cut.held_revisions by name
select o.operation_id, any_value(j.joint_no) as joint_no, min(f.rule) as rule
from known_operations as o
join operation_ends as e on e.version_no = o.version_no and e.operation_end = 'held'
join findings as f on f.place = o.version_no and f.table_name = 'operations' and f.severity = 'hold'
left join joints as j
    on j.patient_id = o.patient_id and j.joint = o.joint and j.side = o.side and j.operation_date <= o.operation_date
where o.kind = 'revision' and o.operation_date <= $through
group by o.operation_id
order by o.operation_id
