-- Figures of hospitals and surgeons by period, each beside what is usual, for the rules about units. A period is a
-- year, a month or a day. `rows` is what the figure is counted on.
--
-- creates:  unit_operations, unit_figures

create or replace temp table unit_operations as
with first_known as (
    select operation_id, min(known_from) as first_known
    from registry.operations
    where known_from <= $as_of
    group by operation_id
)
select
    o.version_no, o.operation_id, o.hospital_id, o.surgeon_id, o.kind, o.joint, o.operation_date, f.first_known,
    year(o.operation_date)::varchar as year,
    v.bmi, v.asa, v.approach, v.prophylaxis, v.sex, v.diagnosis,
    r.reason_group
from standing_operations as o
join registry.operations as v on v.version_no = o.version_no
join first_known as f on f.operation_id = o.operation_id
left join reason_counts as r on r.version_no = o.version_no and o.kind = 'revision'
where o.operation_date <= $through;

create or replace temp table unit_figures as
with

by_year as (
    select
        hospital_id, year,
        count(*) filter (where kind = 'primary') as primaries,
        count(*) filter (where kind = 'revision') as revisions,
        count(*) filter (where reason_group = 'other') as others,
        median(first_known - operation_date) as lag,
        count(*) as rows,
        [
            {'field': 'bmi', 'share': avg((bmi is null)::integer)},
            {'field': 'asa', 'share': avg((asa = 'not recorded')::integer)},
            {'field': 'approach', 'share': avg((approach = 'not recorded')::integer)},
            {'field': 'prophylaxis', 'share': avg((prophylaxis = 'not recorded')::integer)},
            {'field': 'surgeon', 'share': avg((surgeon_id = 'not recorded')::integer)},
            {'field': 'sex', 'share': avg((sex = 'not recorded')::integer)},
            {'field': 'diagnosis', 'share': avg((diagnosis = 'not recorded')::integer)}
        ] as empty
    from unit_operations
    group by all
),

network as (
    select year, sum(revisions) / nullif(sum(primaries), 0) as revision_share, sum(others) / nullif(sum(revisions), 0) as other_share
    from by_year
    group by year
),

lots as (
    select o.hospital_id, o.year, count(*) as rows, avg((trim(c.lot) = '')::integer) as share
    from registry.components as c
    join unit_operations as o on o.version_no = c.version_no
    where c.action = 'implanted'
    group by all
),

fields as (
    select hospital_id, year, rows, unnest(empty, recursive := true) from by_year
    union all by name
    select hospital_id, year, rows, 'lot' as field, share from lots
),

registered as (
    select hospital_id, joint, kind, date_trunc('month', operation_date)::date as month, count(*) as operations
    from unit_operations
    group by all
),

-- Months that the hospital says it has sent in full; of those, what its administrative system counts.
counted as (
    select
        a.hospital_id, a.month, sum(a.operations) as counted, coalesce(sum(r.operations), 0) as operations
    from known_admin_counts as a
    join complete_through as t
        on t.kind = 'operations' and t.sender = a.hospital_id and t.complete_through >= last_day(a.month)
    left join registered as r
        on r.hospital_id = a.hospital_id and r.joint = a.joint and r.kind = a.kind and r.month = a.month
    where last_day(a.month) <= $through
    group by a.hospital_id, a.month
),

months as (
    select
        m.hospital_id,
        m.month,
        count(o.version_no) as operations,
        avg(count(o.version_no)) over before as usual,
        count(*) over before as months_before
    from (
        select hospital_id, unnest(generate_series(date_trunc('month', min(operation_date)), $through + interval 1 day - interval 1 month, interval 1 month))::date as month
        from unit_operations
        group by hospital_id
    ) as m
    left join unit_operations as o
        on o.hospital_id = m.hospital_id and o.operation_date >= m.month and o.operation_date < m.month + interval 1 month
    group by m.hospital_id, m.month
    window before as (partition by m.hospital_id order by m.month rows between 12 preceding and 1 preceding)
),

days as (
    select o.surgeon_id, o.operation_date, count(*) as operations, count(distinct h.region) as regions
    from unit_operations as o
    left join known_hospitals as h on h.hospital_id = o.hospital_id
    where o.surgeon_id <> 'not recorded'
    group by all
),

digits as (
    select surgeon_id, year, bmi * 10 % 10 as digit, count(*) as rows
    from unit_operations
    where bmi is not null and surgeon_id <> 'not recorded'
    group by all
),

-- Each recorded index beside the one before it, of the same hospital and of the same surgeon.
indices as (
    select
        hospital_id, surgeon_id, year, bmi,
        lag(bmi) over of_hospital as hospital_before,
        row_number() over of_hospital as hospital_place,
        lag(bmi) over of_surgeon as surgeon_before,
        row_number() over of_surgeon as surgeon_place
    from unit_operations
    where bmi is not null
    window
        of_hospital as (partition by hospital_id order by operation_date, operation_id),
        of_surgeon as (partition by surgeon_id order by operation_date, operation_id)
),

same_as_before as (
    select 'hospital' as unit_kind, hospital_id as unit, year, bmi, hospital_place as place
    from indices
    where bmi = hospital_before
    union all
    select 'surgeon' as unit_kind, surgeon_id as unit, year, bmi, surgeon_place as place
    from indices
    where bmi = surgeon_before and surgeon_id <> 'not recorded'
),

runs as (
    select unit_kind, unit, max(year) as year, any_value(bmi) as bmi, count(*) + 1 as length
    from (
        select *, place - row_number() over (partition by unit_kind, unit order by place) as run from same_as_before
    ) as in_order
    group by unit_kind, unit, run
),

classes as (
    select surgeon_id, year, asa, count(*) as rows
    from unit_operations
    where asa <> 'not recorded' and surgeon_id <> 'not recorded'
    group by all
),

reasons as (
    select hospital_id, joint, reason_group, year::integer as year, count(*) as rows
    from unit_operations
    where reason_group is not null
    group by all
),

shares as (
    select
        *,
        sum(rows) over (partition by hospital_id, joint, year) as total,
        rows / sum(rows) over (partition by hospital_id, joint, year) as share
    from reasons
)

select 'hospital' as unit_kind, b.hospital_id as unit, b.year as period, 'revisions' as measure, '' as detail, b.primaries as rows,
    b.revisions / nullif(b.primaries, 0) as figure, n.revision_share as usual
from by_year as b join network as n on n.year = b.year
union all
select 'hospital', b.hospital_id, b.year, 'reason other', '', b.revisions, b.others / nullif(b.revisions, 0), n.other_share
from by_year as b join network as n on n.year = b.year
union all
select 'hospital', hospital_id, year, 'days to receipt', '', rows, lag, lag(lag) over (partition by hospital_id order by year)
from by_year
union all
select 'hospital', hospital_id, year, 'empty', field, rows, share, median(share) over (partition by year, field)
from fields
union all
select 'hospital', hospital_id, strftime(month, '%Y-%m'), 'operations in a month', '', usual, operations, usual
from months
where months_before = 12
union all
select 'hospital', hospital_id, strftime(month, '%Y-%m'), 'administrative count', '', counted, operations, counted
from counted
union all
select unit_kind, unit, year, 'run of one body mass index', arg_max(bmi, length)::varchar, max(length), max(length), null
from runs
group by unit_kind, unit, year
union all
select 'surgeon', surgeon_id, operation_date::varchar, 'operations in a day', '', operations, operations, null
from days
where operations >= $surgeon_day
union all
select 'surgeon', surgeon_id, operation_date::varchar, 'regions in a day', '', operations, regions, 1
from days
where regions > 1
union all
select 'surgeon', surgeon_id, year, 'last digit of body mass index', arg_max(digit, rows)::integer::varchar, sum(rows), max(rows) / sum(rows), 0.1
from digits
group by surgeon_id, year
union all
select 'surgeon', surgeon_id, year, 'one ASA class', arg_max(asa, rows), sum(rows), max(rows) / sum(rows), null
from classes
group by surgeon_id, year
union all
select 'hospital', s.hospital_id, s.year::varchar, 'reason', s.joint || ', ' || s.reason_group, least(s.total, b.total), s.share, coalesce(p.share, 0)
from shares as s
join (select distinct hospital_id, joint, year, total from shares) as b on b.hospital_id = s.hospital_id and b.joint = s.joint and b.year = s.year - 1
left join shares as p
    on p.hospital_id = s.hospital_id and p.joint = s.joint and p.reason_group = s.reason_group and p.year = s.year - 1
