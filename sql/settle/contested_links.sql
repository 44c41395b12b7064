-- Revisions whose joint has a primary that counts and another that is held, neither later than the revision: either may be
-- the true one, written down with a wrong side or patient beside it. Not contested where lot or serial number of a
-- component taken out, of the same catalogue number, was put in at the counted primary and at none of the held.
--
-- creates:  contested_links

create or replace temp table contested_links as
with

rivals as (
    select distinct
        r.version_no, r.operation_id, p.version_no as primary_no, p.operation_id as primary_operation_id,
        p.version_no = c.version_no as is_counted
    from revisions_and_primaries as r
    join standing_operations as c on c.operation_id = r.primary_operation_id
    join known_operations as p
        on p.patient_id = r.patient_id and p.joint = r.joint and p.side = r.side
        and p.kind = 'primary' and p.operation_date <= r.operation_date
    left join findings as f on f.place = p.version_no and f.table_name = 'operations' and f.severity = 'hold'
    where r.held_primary_id is not null and (p.version_no = c.version_no or f.place is not null)
),

crowded as (
    select version_no from rivals where not is_counted group by version_no
),

shared as (
    select
        r.version_no, r.primary_no,
        coalesce(bool_or((t.lot = i.lot and t.lot <> '') or (t.serial = i.serial and t.serial <> '')), false) as is_proof
    from rivals as r
    join components as t on t.version_no = r.version_no and t.action = 'removed'
    join components as i
        on i.version_no = r.primary_no and i.action = 'implanted' and i.catalogue_no = t.catalogue_no
        and i.catalogue_no <> ''
    group by all
),

weighed as (
    select
        r.*,
        s.version_no is not null as same_component,
        bool_or(r.is_counted and coalesce(s.is_proof, false)) over same as fits_counted,
        bool_or(not r.is_counted and coalesce(s.is_proof, false)) over same as fits_held
    from rivals as r
    semi join crowded as c on c.version_no = r.version_no
    left join shared as s on s.version_no = r.version_no and s.primary_no = r.primary_no
    window same as (partition by r.version_no)
)

select version_no, operation_id, primary_no, primary_operation_id, is_counted, same_component
from weighed
where not fits_counted or fits_held
