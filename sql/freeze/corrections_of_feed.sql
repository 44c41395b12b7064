-- What later submissions changed in the records of a feed (deaths, losses, the catalogue …), field by field: each version
-- against the one before it, in the order of their sequence. Versions that only repeat are none. A record counts in the cut
-- where a patient or a component of the cut is its own; a record of a unit or of a month, where it happened by then.
--
-- writes:   corrections
-- needs:    table, file, record, cells, happened, counts

insert into cut.corrections by name
with

versions as (
    select
        t.version_no, t.row_no, {record} as record_id, s.submission_id, s.sender, s.sequence, s.reason_for_correction,
        t.known_from, {happened} as happened_on, {counts} as is_counted, [{cells}] as cells
    from registry.{table} as t
    join versions_{table} as v on v.version_no = t.version_no
    join registry.submissions as s on s.submission_no = t.submission_no
    where v.standing <> 'repeat'
),

pairs as (
    select
        *,
        lag(cells) over in_order as old_cells,
        greatest(known_from, lag(known_from) over in_order) as corrected_on,
        least(happened_on, lag(happened_on) over in_order) as first_date
    from versions
    window in_order as (partition by record_id order by sequence, submission_id, row_no)
    qualify old_cells is not null
),

compared as (
    select
        p.* exclude (cells, old_cells),
        unnest(p.cells).field as field,
        nullif(unnest(p.old_cells).said, '') as old_value,
        nullif(unnest(p.cells).said, '') as new_value
    from pairs as p
)

select
    record_id, sender as hospital_id, submission_id, corrected_on, '{file}' as table_name, null::smallint as line_no,
    field, old_value, new_value, reason_for_correction as reason, is_counted
from compared
where old_value is distinct from new_value and (first_date is null or first_date <= $through)
order by corrected_on, submission_id, record_id, field
