-- What later submissions changed in operations, field by field: each version that stands or stood against the one before
-- it, in the order of their sequence. Versions that only repeat are none.
--
-- writes:   corrections
-- needs:    operations_cells, components_cells, reasons_cells

insert into cut.corrections by name
with

versions as (
    select
        v.version_no, v.operation_id, s.submission_id, s.sender, s.sequence, s.reason_for_correction, o.known_from,
        o.operation_date
    from versions_operations as v
    join registry.operations as o on o.version_no = v.version_no
    join registry.submissions as s on s.submission_no = v.submission_no
    where v.standing <> 'repeat'
),

pairs as (
    select
        *,
        lag(version_no) over in_order as old_no,
        greatest(known_from, lag(known_from) over in_order) as corrected_on,
        least(operation_date, lag(operation_date) over in_order) as first_date
    from versions
    window in_order as (partition by operation_id order by sequence, submission_id)
    qualify old_no is not null
),

cells as (
    select v.version_no, 'operations' as table_name, null::smallint as line_no, unnest([{operations_cells}]) as cell
    from registry.operations as v
    semi join versions as w on w.version_no = v.version_no
    union all
    select v.version_no, 'components' as table_name, v.line_no, unnest([{components_cells}]) as cell
    from registry.components as v
    semi join versions as w on w.version_no = v.version_no
    union all
    select v.version_no, 'reasons' as table_name, v.line_no, unnest([{reasons_cells}]) as cell
    from registry.revision_reasons as v
    semi join versions as w on w.version_no = v.version_no
),

said as (
    select version_no, table_name, line_no, cell.field as field, nullif(cell.said, '') as said from cells
),

changed as (
    select
        p.version_no, o.table_name, o.line_no, o.field, o.said as old_value, null::varchar as new_value
    from pairs as p
    join said as o on o.version_no = p.old_no
    where o.said is not null
    union all
    select p.version_no, n.table_name, n.line_no, n.field, null as old_value, n.said as new_value
    from pairs as p
    join said as n on n.version_no = p.version_no
    where n.said is not null
),

compared as (
    select
        version_no, table_name, line_no, field, max(old_value) as old_value, max(new_value) as new_value
    from changed
    group by all
    having max(old_value) is distinct from max(new_value)
)

select
    p.operation_id as record_id,
    p.sender as hospital_id,
    p.submission_id,
    p.corrected_on,
    c.table_name,
    c.line_no,
    c.field,
    case when c.field = 'note' and c.old_value is not null then 'not shown' else c.old_value end as old_value,
    case when c.field = 'note' and c.new_value is not null then 'not shown' else c.new_value end as new_value,
    p.reason_for_correction as reason,
    k.operation_id is not null as is_counted
from compared as c
join pairs as p on p.version_no = c.version_no
left join cut_operations as k on k.operation_id = p.operation_id
where p.first_date <= $through
order by p.corrected_on, p.submission_id, p.operation_id, c.table_name, c.line_no, c.field
