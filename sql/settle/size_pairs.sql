-- Components put in together whose sizes lie further apart than their pair of implants allows. The number that a size
-- begins with counts; a size without one is not judged.
--
-- creates:  entries_apart, size_pairs

create or replace temp table entries_apart as
with sizes as (
    select catalogue_no, implant, size, try_cast(regexp_extract(size, '^[0-9]+') as integer) as number
    from known_catalogue
)
select
    a.catalogue_no as catalogue_no,
    b.catalogue_no as paired_no,
    a.implant || ' ' || a.size || ' with ' || b.implant || ' ' || b.size as told
from known_catalogue_pairs as p
join sizes as a on a.implant = p.implant
join sizes as b on b.implant = p.paired_implant
where abs(a.number - b.number) > p.size_steps;

create or replace temp table size_pairs as
with

firsts as (
    select c.version_no, e.paired_no, e.told
    from components as c
    join entries_apart as e on e.catalogue_no = c.catalogue_no
    where c.action = 'implanted'
),

apart as (
    select f.version_no, min(f.told) as told
    from components as c
    join firsts as f on f.version_no = c.version_no and f.paired_no = c.catalogue_no
    where c.action = 'implanted'
    group by all
)

select o.version_no as place, o.operation_id as record_id, o.known_from, o.operation_date, a.told
from apart as a
join known_operations as o on o.version_no = a.version_no
