-- For every file: rows received, and what became of them. Accepted rows are counted from what
-- the store keeps, so that the sum can be wrong, and is checked.
--
-- creates:  settled_files
-- needs:    kept_of_each

create or replace temp table settled_files as
with

kept as (
{kept_of_each}
),

found_alone as (
    select table_name, place, bool_or(severity = 'reject') as is_rejected
    from row_findings
    where severity in ('reject', 'known already') and known_from <= $as_of
    group by all
),

counts as (
    select table_name, submission_no, rows as kept, 0 as rejected, 0 as repeated, 0 as held, 0 as known from kept
    union all
    select table_name, place // 1000000000, 0, is_rejected::integer, (not is_rejected)::integer, 0, 0 from found_alone
    union all
    select table_name, place // 1000000000, 0, 0, 0, (row_end = 'held')::integer, (row_end <> 'held')::integer
    from row_ends
),

sums as (
    select
        table_name, submission_no,
        sum(kept)::integer as kept, sum(rejected)::integer as rejected, sum(repeated)::integer as repeated,
        sum(held)::integer as held, sum(known)::integer as known
    from counts
    group by all
)

select
    f.submission_no,
    f.table_name,
    f.sha256,
    f.declared,
    f.received,
    coalesce(s.kept - s.held - s.known, 0) as accepted,
    coalesce(s.held, 0) as held,
    coalesce(s.rejected, 0) as rejected,
    coalesce(s.known + s.repeated, 0) as known_already
from submission_files as f
join submissions as b on b.submission_no = f.submission_no
left join sums as s on s.submission_no = f.submission_no and s.table_name = f.table_name
where b.received_date <= $as_of
