-- The rows of one file of the operations that go back, every row of each operation, cell by cell as it was sent, with what
-- rules say of it; nothing where they say nothing of that row.
--
-- grain:    submission_no, row_no
-- reads:    sent_rows, submissions
-- needs:    table, cells
with

all_rows as (
    select k.submission_no, k.row_no, k.operation_id, coalesce(s.cells, [{cells}]) as cells
    from kept_{table} as k
    left join sent_rows as s
        on s.table_name = '{table}' and s.place = k.submission_no::bigint * 1000000000 + k.row_no
    union all
    select s.place // 1000000000, s.place % 1000000000, s.record_id, s.cells
    from sent_rows as s
    where s.table_name = '{table}'
        and s.place not in (select k.submission_no::bigint * 1000000000 + k.row_no from kept_{table} as k)
        and s.record_id in (select record_id from returned_records)
),

told as (
    select
        s.submission_no, r.row_no,
        string_agg(r.text || case when r.value <> '' then ' It said ' || r.value || '.' else '' end, ' ' order by r.rule)
            as reasons
    from returned_rows as r
    join submissions as s on s.submission_id = r.submission_id
    where r.table_name = '{table}' and (r.must or not $must)
    group by all
)

select a.cells, coalesce(t.reasons, '') as reasons
from all_rows as a
join returned_records as d on d.record_id = a.operation_id and d.submission_no = a.submission_no
left join told as t on t.submission_no = a.submission_no and t.row_no = a.row_no
where d.must = $must
order by a.submission_no, a.row_no
