-- Revisions without a primary whose components name one of some implants, and all revisions of the joint without one.
--
-- grain:    one row
-- reads:    links, operations, components, catalogue
-- columns:  unlinked  bigint  revisions of the joint without a primary
--           taken     bigint  of these, revisions that took one of the implants out
--           placed    bigint  of these, revisions that put one of the implants in
with

unlinked as (
    select links.operation_id
    from links
    inner join operations on operations.operation_id = links.operation_id
    where links.primary_operation_id is null and operations.joint = try_cast($joint as joint_words)
),

naming as (
    select components.operation_id, components.action
    from components
    inner join unlinked on unlinked.operation_id = components.operation_id
    inner join catalogue on catalogue.catalogue_no = components.catalogue_no
    where list_contains($implants::varchar[], catalogue.implant)
)

select
    (select count(*) from unlinked) as unlinked,
    count(distinct operation_id) filter (where action = 'removed') as taken,
    count(distinct operation_id) filter (where action = 'implanted') as placed
from naming
