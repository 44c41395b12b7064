-- Components taken out, with how often one of that catalogue number was put into the joint before, and taken out
-- before. A component that went in under a number that nobody knows may be any of its role. Joints whose primary the
-- register does not have are left out: nothing is known of what was in them. Then the operations that take out what
-- an earlier one took out.
--
-- creates:  removed_lines, removed_twice

create or replace temp table removed_lines as
with

removals as (
    select distinct o.patient_id, o.joint, o.side
    from components as c
    join standing_operations as o on o.version_no = c.version_no
    where c.action = 'removed'
),

operated as (
    select
        o.*,
        min(o.operation_date) filter (where o.kind = 'primary') over (partition by o.patient_id, o.joint, o.side)
            as primary_date
    from standing_operations as o
    semi join removals as r on r.patient_id = o.patient_id and r.joint = o.joint and r.side = o.side
),

moves as (
    select
        o.version_no, o.submission_no, o.operation_id, o.known_from, o.patient_id, o.joint, o.side, o.operation_date,
        c.row_no, c.role, c.action, c.catalogue_no,
        coalesce(k.joint = o.joint, false) as is_known,
        row_number() over (
            partition by o.patient_id, o.joint, o.side order by o.operation_date, o.operation_id, c.action desc, c.row_no
        ) as nth
    from components as c
    join operated as o on o.version_no = c.version_no
    left join known_catalogue as k on k.catalogue_no = c.catalogue_no
    where o.primary_date <= o.operation_date
),

counted as (
    select
        *,
        count(*) filter (where action = 'implanted') over same as put_in,
        count(*) filter (where action = 'removed') over same as taken_out,
        count(*) filter (where action = 'implanted' and not is_known) over in_role as unknown_put_in
    from moves
    window
        same as (
            partition by patient_id, joint, side, catalogue_no order by nth
            rows between unbounded preceding and 1 preceding
        ),
        in_role as (
            partition by patient_id, joint, side, role order by nth
            rows between unbounded preceding and 1 preceding
        )
)

select
    submission_no::bigint * 1000000000 + row_no as place,
    operation_id as record_id,
    version_no,
    known_from,
    operation_date,
    catalogue_no,
    put_in,
    taken_out
from counted
where action = 'removed' and is_known and unknown_put_in = 0;

create or replace temp view removed_twice as
select version_no as place, record_id, known_from, operation_date, min(catalogue_no) as catalogue_no
from removed_lines
where put_in > 0 and taken_out >= put_in
group by all
