-- From when on an implant was known to be withdrawn, in every entry of the catalogue.
--
-- grain:    implant
-- reads:    catalogue
-- columns:  implant    varchar  implant code
--           withdrawn  integer  day from which it was known to be withdrawn and was, since 1970
select
    implant,
    (max(greatest(withdrawn_date, known_from)) - date '1970-01-01')::integer as withdrawn
from catalogue
group by implant
having count(*) = count(withdrawn_date)
