-- What no rule has taken out so far. Each step of the rules reads what the steps before left.
--
-- creates:  standing_operations, standing_deaths

create or replace temp view standing_operations as
select o.*
from known_operations as o
anti join findings as f
    on f.place = o.version_no and f.table_name = 'operations' and f.severity in ('hold', 'known already');

create or replace temp view standing_deaths as
select d.*
from known_deaths as d
anti join findings as f on f.place = d.version_no and f.table_name = 'deaths' and f.severity = 'hold'
