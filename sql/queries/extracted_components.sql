-- The components that were put in at the primaries of a cohort and meet the filter's words on components themselves.
--
-- grain:    joint_no, line_no
-- reads:    component_life, follow_up
-- needs:    predicate, which
-- columns:  joint_no   integer   joint
--           line_no    smallint  line of the component
--           role       varchar   what it is in the joint
--           implant    varchar   implant code
--           maker      varchar   code of its maker
--           catalogue  varchar   catalogue number
--           size       varchar   size from the catalogue
--           lot        varchar   lot number; empty where not recorded
select
    joint_no,
    line_no,
    role::varchar as role,
    implant::varchar as implant,
    maker::varchar as maker,
    catalogue_no as catalogue,
    size,
    lot
from component_life
where in_day = 0 and {which} and joint_no in (select joint_no from follow_up where {predicate})
order by joint_no, line_no
