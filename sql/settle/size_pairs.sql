-- Components put in together whose sizes lie further apart than their pair of implants allows. The number that a size
-- begins with counts; a size without one is not judged.
--
-- creates:  size_pairs

create or replace temp table size_pairs as
with

sizes as (
    select catalogue_no, implant, size, try_cast(regexp_extract(size, '^[0-9]+') as integer) as number
    from known_catalogue
),

-- Each line once for every pair that its implant begins.
firsts as (
    select c.version_no, a.implant, a.size, a.number, p.paired_implant, p.size_steps
    from components as c
    join sizes as a on a.catalogue_no = c.catalogue_no
    join known_catalogue_pairs as p on p.implant = a.implant
    where c.action = 'implanted'
),

seconds as (
    select c.version_no, b.implant, b.size, b.number
    from components as c
    join sizes as b on b.catalogue_no = c.catalogue_no
    where c.action = 'implanted' and b.implant in (select paired_implant from known_catalogue_pairs)
),

apart as (
    select f.version_no, min(f.implant || ' ' || f.size || ' with ' || s.implant || ' ' || s.size) as told
    from firsts as f
    join seconds as s on s.version_no = f.version_no and s.implant = f.paired_implant
    where abs(f.number - s.number) > f.size_steps
    group by f.version_no
)

select o.version_no as place, o.operation_id as record_id, o.known_from, o.operation_date, a.told
from apart as a
join known_operations as o on o.version_no = a.version_no
