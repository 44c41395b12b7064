-- Operations that counted in the cut before, do not count in the one to be made, and of which no other
-- version came: by what takes them out, with the first few.
--
-- grain:    cause
-- reads:    previous.operations, standing_operations, known_operations, submissions, findings

with

gone as (
    select p.operation_id, p.submission_id
    from previous.operations as p
    anti join standing_operations as o on o.operation_id = p.operation_id and o.operation_date <= $through
),

taken_out as (
    select place, min(rule) as rule
    from findings
    where table_name = 'operations' and severity in ('hold', 'known already')
    group by place
)

select
    coalesce('rule ' || t.rule, 'no longer in the store') as cause,
    count(*) as operations,
    list(g.operation_id order by g.operation_id)[1:$named] as first_ids
from gone as g
left join known_operations as k on k.operation_id = g.operation_id
left join registry.submissions as s on s.submission_no = k.submission_no
left join taken_out as t on t.place = k.version_no
where k.operation_id is null or s.submission_id = g.submission_id
group by cause
order by operations desc, cause
