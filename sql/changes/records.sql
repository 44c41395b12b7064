-- What became of each operation between the cuts, where its record is not the same in both:
-- corrected: another version of it stands; or it was rejected and came again; or it is gone without a trace.
-- released, held: the same version, which rules kept back before and no longer do, or the other way round.
-- late: nothing of it was known to the earlier cut.
--
-- creates:  records_changed
-- reads:    earlier.operations, earlier.held_rows, earlier.submissions, later.operations, later.held_rows

create or replace temp table records_changed as
with

kept_before as (
    select record_id as operation_id, bool_or(severity = 'reject') as is_rejected, list(submission_id) as submissions
    from earlier.held_rows
    where table_name = 'operations'
    group by record_id
),

kept_after as (
    select record_id as operation_id, list(submission_id) as submissions
    from later.held_rows
    where table_name = 'operations' and severity = 'hold'
    group by record_id
)

select
    coalesce(b.operation_id, a.operation_id) as operation_id,
    case
        when b.operation_id is not null and a.operation_id is not null then 'corrected'
        when b.operation_id is not null
            then case when list_contains(h.submissions, b.submission_id) then 'held' else 'corrected' end
        when k.operation_id is not null
            then case
                when not k.is_rejected and list_contains(k.submissions, a.submission_id) then 'released'
                else 'corrected'
            end
        when s.submission_id is not null then 'released'
        when a.first_received <= $known_before and a.first_received < a.known_from then 'corrected'
        else 'late'
    end as became
from earlier.operations as b
full join later.operations as a on a.operation_id = b.operation_id
left join kept_before as k on k.operation_id = a.operation_id
left join kept_after as h on h.operation_id = b.operation_id
left join earlier.submissions as s on s.submission_id = a.submission_id
where b.submission_id is distinct from a.submission_id
