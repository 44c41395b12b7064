-- The joints of one cut that hold implants, sizes or lots that were chosen, and which they hold: of each its role and its
-- code, a tab between them and a line each. Run with that cut as the current database.
--
-- creates:  chosen_units
-- reads:    component_life
-- needs:    code

create or replace temp table chosen_units as
select joint_no, string_agg(distinct unit, chr(10) order by unit) as units
from (
    select joint_no, role::varchar || chr(9) || {code} as unit, {code} as code
    from component_life
    where in_day = 0 and list_contains($implants::varchar[], implant::varchar)
)
where list_contains($codes::varchar[], code)
group by joint_no
