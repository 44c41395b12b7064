-- Implants of which every entry in the catalogue was withdrawn by the end of the cut.
--
-- grain:    implant
-- reads:    catalogue
-- columns:  implant  varchar  implant code
select implant
from catalogue
group by implant
having count(*) = count(*) filter (where withdrawn_date <= $through::date)
order by implant
