-- What a feed's records say otherwise than when the store was last settled: as they stood then, and as they stand.
--
-- creates:  changed_{table}
-- reads:    row_findings
-- needs:    table, file, columns

create or replace temp table changed_{table} as
with

before as (
    select {columns}
    from {table} as t
    anti join row_findings as f on f.place = t.version_no and f.table_name = '{file}' and f.severity = 'hold'
    where t.submission_no <= $submissions and t.known_to is null and not t.repeats
),

now as (
    select {columns} from known_{table}
)

(select * from before except select * from now)
union
(select * from now except select * from before)
