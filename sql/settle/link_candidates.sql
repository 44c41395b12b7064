-- Primaries that a revision without one could belong to, for people to review; nothing here is a link. A primary is of
-- the same joint and no later than the revision, its patient had not died before, and nobody undid that very link.
--
-- primary on the other side: the patient's other side has one; the revision is held until the hospital says which is
--     wrong, so this is never accepted here.
-- same serial number: a component taken out has the serial and catalogue number of one put in at the primary.
-- near pseudonym: one character of the agreed pseudonym changed, or two neighbours swapped; sex, year of birth, joint
--     and side are the same. A pseudonym made from a number (Q…) is never near another.
--
-- same patient, joint and side: a contested link (contested_links). Of its primaries only the one that counts can be
--     accepted here; a held one is for its hospital to correct.
--
-- likely: by serial number, where sex, year of birth and side are the same and it went into one patient only; by near
--     pseudonym, where no second primary is near and a component taken out has the catalogue number of one put in.
-- possible: every other.
--
-- creates:  settled_candidates

create or replace temp table settled_candidates as
with

open_revisions as (
    select distinct
        r.version_no, r.operation_id, r.patient_id, r.birth_year, r.sex, r.joint, r.side, r.operation_date, r.known_from
    from revisions_and_primaries as r
    semi join standing_operations as o on o.version_no = r.version_no
    left join link_decisions as d
        on d.operation_id = r.operation_id and d.primary_operation_id = r.primary_operation_id and d.decision = 'undone'
    where r.held_primary_id is null and (r.primary_operation_id is null or d.operation_id is not null)
),

on_other_side as (
    select distinct version_no, operation_id, other_side_id
    from revisions_and_primaries
    where primary_operation_id is null and later_primary_id is null and held_primary_id is null
        and other_side_id is not null
),

taken_out as (
    select c.version_no, c.catalogue_no, c.serial
    from components as c
    semi join open_revisions as r on r.version_no = c.version_no
    where c.action = 'removed'
),

numbered as (
    -- A number of fewer than three different characters is no serial number: 0000, N/A.
    select * from taken_out where len(list_distinct(string_split(serial, ''))) >= 3
),

by_serial as (
    select t.version_no, c.version_no as primary_no, any_value(t.serial) as serial
    from numbered as t
    join components as c
        on c.serial = t.serial and c.catalogue_no = t.catalogue_no and c.action = 'implanted'
    group by all
),

places as (
    select unnest(range(2, 11)) as place
),

spellings as (
    select r.version_no, r.patient_id[:p.place - 1] || d.digit || r.patient_id[p.place + 1:] as patient_id
    from open_revisions as r, places as p, (select unnest(range(0, 10))::varchar as digit) as d
    where r.patient_id[1] = 'P' and r.patient_id[p.place] <> d.digit
    union
    select
        r.version_no,
        r.patient_id[:p.place - 1] || r.patient_id[p.place + 1] || r.patient_id[p.place] || r.patient_id[p.place + 2:]
            as patient_id
    from open_revisions as r, places as p
    where r.patient_id[1] = 'P' and p.place < 10 and r.patient_id[p.place] <> r.patient_id[p.place + 1]
),

by_pseudonym as (
    select s.version_no, o.version_no as primary_no
    from spellings as s
    join standing_operations as o on o.patient_id = s.patient_id and o.kind = 'primary'
),

suggested as (
    select version_no, primary_no, 'same serial number' as method from by_serial
    union all
    select version_no, primary_no, 'near pseudonym' as method from by_pseudonym
),

fitting as (
    select
        r.version_no, r.operation_id, r.known_from, o.operation_id as primary_operation_id, s.method,
        o.version_no as primary_no,
        o.side = r.side as same_side,
        o.sex = r.sex as same_sex,
        coalesce(o.birth_year = r.birth_year, false) as same_birth_year,
        o.patient_id
    from suggested as s
    join open_revisions as r on r.version_no = s.version_no
    join standing_operations as o on o.version_no = s.primary_no
    left join standing_deaths as d on d.patient_id = o.patient_id
    where o.kind = 'primary' and o.joint = r.joint and o.operation_date <= r.operation_date
        and (d.death_date is null or d.death_date >= r.operation_date)
        and (s.method <> 'near pseudonym' or (o.side = r.side and o.sex = r.sex and o.birth_year = r.birth_year))
),

same_components as (
    select f.version_no, f.primary_no
    from fitting as f
    join taken_out as t on t.version_no = f.version_no
    join components as c
        on c.version_no = f.primary_no and c.action = 'implanted' and c.catalogue_no = t.catalogue_no
        and c.catalogue_no <> ''
    group by all
),

weighed as (
    select
        f.*,
        s.version_no is not null as same_component,
        count(distinct f.patient_id) over (partition by f.version_no, f.method) as patients
    from fitting as f
    left join same_components as s on s.version_no = f.version_no and s.primary_no = f.primary_no
)

select
    w.operation_id, w.primary_operation_id, w.method,
    case
        when w.patients > 1 then 'possible'
        when w.method = 'same serial number' and w.same_side and w.same_sex and w.same_birth_year then 'likely'
        when w.method = 'near pseudonym' and w.same_component then 'likely'
        else 'possible'
    end as confidence,
    w.same_side, w.same_sex, w.same_birth_year, w.same_component, false as is_held
from weighed as w
anti join link_decisions as d
    on d.operation_id = w.operation_id and d.primary_operation_id = w.primary_operation_id and d.decision = 'undone'
union all
select
    operation_id, other_side_id as primary_operation_id, 'primary on the other side' as method,
    'possible' as confidence, false as same_side, true as same_sex, true as same_birth_year,
    false as same_component, true as is_held
from on_other_side
union all
select
    x.operation_id, x.primary_operation_id, 'same patient, joint and side' as method, 'possible' as confidence,
    true as same_side, coalesce(p.sex = r.sex, false) as same_sex,
    coalesce(p.birth_year = r.birth_year, false) as same_birth_year, x.same_component, not x.is_counted as is_held
from contested_links as x
join known_operations as r on r.version_no = x.version_no
join known_operations as p on p.version_no = x.primary_no
semi join standing_operations as o on o.version_no = x.version_no
anti join link_decisions as d
    on d.operation_id = x.operation_id and d.primary_operation_id = x.primary_operation_id and d.decision = 'undone'
