-- Deaths of which several files spoke, with how many dates they gave and how often the one that stands.
--
-- creates:  death_versions

create or replace temp table death_versions as
select
    d.version_no as place,
    d.patient_id as record_id,
    d.known_from,
    d.death_date,
    count(distinct v.death_date) as dates,
    count(*) filter (where v.death_date = d.death_date) as times_said,
    min(v.death_date) filter (where v.death_date <> d.death_date) as other_date
from known_deaths as d
semi join versions_deaths as s on s.version_no = d.version_no
join deaths as v on v.patient_id = d.patient_id and v.known_from <= $as_of
group by d.version_no, d.patient_id, d.known_from, d.death_date
