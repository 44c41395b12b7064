-- Staged cells with the place they came from and the date they were received.
--
-- creates:  placed_{table}
-- needs:    table

create or replace temp view placed_{table} as
select
    f.submission_no::bigint * 1000000000 + (s.bundle_row - f.first_row + 1) as place,
    f.submission_no,
    (s.bundle_row - f.first_row + 1)::integer as row_no,
    f.sender,
    f.received_date as known_from,
    coalesce(r.differs, false) as repeated_differently,
    coalesce(r.nth > 1 and not r.differs, false) as repeats_row,
    s.* exclude (file_no, bundle_row)
from staged_{table} as s
join staged_files as f on f.file_no = s.file_no and f.table_name = '{table}'
left join repeated_{table} as r on r.bundle_row = s.bundle_row
