-- Every component of one joint, in the order they went in.
--
-- grain:    in_day, operation_id, line_no
-- reads:    component_life
-- columns:  operation_id  varchar   operation at which it went in
--           line_no       smallint  its line in that operation
--           role          varchar   what it is in the joint
--           implant       varchar   implant code
--           maker         varchar   code of the maker
--           catalogue_no  varchar   catalogue number
--           size          varchar   size
--           lot           varchar   lot; empty where not recorded
--           in_day        integer   days from the primary to the operation that put it in
--           out_day       integer   days from the primary to its removal; null while in place
select
    operation_id,
    line_no,
    role::varchar as role,
    implant::varchar as implant,
    maker::varchar as maker,
    catalogue_no,
    size,
    lot,
    in_day,
    out_day
from component_life
where joint_no = $joint_no
order by in_day, operation_id, line_no
