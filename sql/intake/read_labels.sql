-- What labels say, each label once: a few microseconds a label. Step by step in tables that are kept,
-- since the database would else take a label apart anew for every column.
--
-- creates:  labels_read
-- needs:    source
-- columns:  raw         varchar  the label as it was sent
--           seen        integer  year it was received in
--           fault       varchar  key of udi.FAULTS; null where the label was read
--           gtin        varchar  14 digits
--           expiry_date date
--           made_date   date
--           lot         varchar
--           serial      varchar
create or replace temp table labels_read as
with

labels as materialized (select distinct raw, seen, udi_trimmed(raw) as label from {source}),
taken_apart as materialized (select raw, seen, label, udi_elements(label) as elements from labels),
values_found as materialized (
    select
        raw, seen, label, elements,
        udi_value(elements, '01') as gtin,
        udi_value(elements, '10') as lot,
        udi_value(elements, '11') as made,
        udi_value(elements, '17') as expiry,
        udi_value(elements, '21') as serial
    from taken_apart
),
days_found as materialized (
    select *, udi_date(expiry, seen) as expiry_date, udi_date(made, seen) as made_date from values_found
),
judged as materialized (
    select *, udi_fault_of(label, elements, gtin, lot, serial, made, made_date, expiry, expiry_date) as fault
    from days_found
)

select
    raw, seen, fault,
    case when fault is null then gtin end as gtin,
    case when fault is null then expiry_date end as expiry_date,
    case when fault is null then made_date end as made_date,
    case when fault is null then lot end as lot,
    case when fault is null then serial end as serial
from judged
