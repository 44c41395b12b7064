-- Operations that put in a component which, by its implant and serial number, was put into another patient too.
--
-- creates:  shared_serials

create or replace temp table shared_serials as
with

lines as (
    select o.version_no, o.operation_id, o.known_from, o.patient_id, coalesce(k.implant, c.catalogue_no) as implant, c.serial
    from components as c
    join standing_operations as o on o.version_no = c.version_no
    left join known_catalogue as k on k.catalogue_no = c.catalogue_no
    where c.action = 'implanted' and length(c.serial) > 3
),

shared as (
    select implant, serial
    from lines
    group by all
    having min(patient_id) <> max(patient_id) and is_serial(serial)
)

select l.version_no as place, any_value(l.operation_id) as record_id, any_value(l.known_from) as known_from, min(l.serial) as serial
from lines as l
semi join shared as s on s.implant = l.implant and s.serial = l.serial
group by l.version_no
