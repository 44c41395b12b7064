-- How many primaries of the same joint and class the surgeon did in the 365 days before, the same
-- day left out; null in the first 365 days after the surgeon's first operation on the register.
--
-- creates:  surgeon_volumes

create or replace temp table surgeon_volumes as
with

firsts as (
    select surgeon_id, min(operation_date) as first_date
    from cut_operations
    where surgeon_id <> 'not recorded'
    group by surgeon_id
),

counted as (
    select
        o.version_no,
        o.surgeon_id,
        o.operation_date,
        count(*) over (
            partition by o.surgeon_id, o.joint, o.class
            order by (o.operation_date - date '1900-01-01')
            range between 365 preceding and 1 preceding
        ) as volume
    from cut_operations as o
    where o.kind = 'primary' and o.surgeon_id <> 'not recorded'
)

select c.version_no, c.volume
from counted as c
join firsts as f on f.surgeon_id = c.surgeon_id
where c.operation_date - f.first_date >= 365
