-- Primaries that revisions without one could belong to, for people to review; all, or those of one hospital's revisions.
--
-- grain:    revision_id, primary_id, method
-- reads:    link_candidates, operations
-- columns:  revision_id      varchar  operation record of the revision
--           hospital         varchar  hospital of the revision
--           joint            varchar  joint
--           revision_date    date     date of the revision
--           primary_id       varchar  operation record of the primary
--           primary_date     date     date of the primary
--           method           varchar  how it was found
--           confidence       varchar  likely or possible
--           same_side        boolean  the two records say the same side
--           same_sex         boolean  they say the same sex
--           same_birth_year  boolean  they say the same year of birth
--           same_component   boolean  a component taken out has the catalogue number of one put in
--           is_held          boolean  the revision or the primary is held, and its hospital must answer
select
    c.operation_id as revision_id,
    c.hospital_id as hospital,
    c.joint::varchar as joint,
    c.operation_date as revision_date,
    c.primary_operation_id as primary_id,
    o.operation_date as primary_date,
    c.method,
    c.confidence,
    c.same_side,
    c.same_sex,
    c.same_birth_year,
    c.same_component,
    c.is_held
from link_candidates as c
left join operations as o on o.operation_id = c.primary_operation_id
where $hospital::varchar is null or c.hospital_id = $hospital
order by c.is_held, c.confidence, c.operation_id, c.primary_operation_id, c.method
