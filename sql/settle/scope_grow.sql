-- Patients whose findings may depend on those of the frontier: an operation was said to be of both, or a component with
-- one serial number went into both. They are the next frontier.
--
-- creates:  scope_frontier
-- writes:   scope_patients
-- reads:    operations, components

create or replace temp table scope_frontier as
with

touched as (
    select distinct o.operation_id
    from registry.operations as o
    semi join scope_frontier as f on f.patient_id = o.patient_id
),

versions as (
    select o.version_no, o.patient_id
    from registry.operations as o
    semi join touched as t on t.operation_id = o.operation_id
),

serials as (
    select distinct c.catalogue_no, c.serial
    from registry.components as c
    semi join versions as v on v.version_no = c.version_no
    where c.action = 'implanted' and is_serial(c.serial)
),

devices as (
    select distinct s.serial, unnest(list_append(coalesce(n.names, []), s.catalogue_no)) as name
    from serials as s
    left join device_names as n on n.catalogue_no = s.catalogue_no
),

same_serials as (
    select c.version_no, c.catalogue_no, c.serial
    from registry.components as c
    semi join devices as d on d.serial = c.serial
    where c.action = 'implanted' and c.serial <> ''
),

same_devices as (
    select s.version_no
    from (
        select s.version_no, s.serial, unnest(list_append(coalesce(n.names, []), s.catalogue_no)) as name
        from same_serials as s
        left join device_names as n on n.catalogue_no = s.catalogue_no
    ) as s
    semi join devices as d on d.serial = s.serial and d.name = s.name
),

found as (
    select patient_id from versions
    union
    select o.patient_id
    from registry.operations as o
    semi join same_devices as s on s.version_no = o.version_no
)

select f.patient_id
from found as f
anti join scope_patients as p on p.patient_id = f.patient_id;

insert into scope_patients select patient_id from scope_frontier
