-- Who the joints of a cohort are, by group.
--
-- grain:    the grouping columns
-- reads:    follow_up
-- needs:    grouping, predicate
-- columns:  joints       bigint   joints
--           patients     bigint   patients; one with two joints counts once
--           hospitals    bigint   hospitals of the primaries, those not recorded left out
--           surgeons     bigint   responsible surgeons, those not recorded left out
--           first_date   varchar  first primary
--           last_date    varchar  last primary
--           mean_age     double   mean of completed years at the primary
--           female       double   share of those whose sex is recorded; null where none is
--           median_days  double   median days of follow-up; the mean of the middle two where even
--           revised      bigint   joints revised
--           died         bigint   joints whose follow-up ended in death
--           lost         bigint   joints whose patient emigrated or opted out
select
    {grouping}
    count(*) as joints,
    count(distinct patient_no) as patients,
    count(distinct nullif(hospital_id, try_cast('not recorded' as hospital_codes))) as hospitals,
    count(distinct nullif(surgeon_id, try_cast('not recorded' as surgeon_codes))) as surgeons,
    min(implanted_date)::varchar as first_date,
    max(implanted_date)::varchar as last_date,
    avg(age) as mean_age,
    count(*) filter (where sex = 'female') / nullif(count(*) filter (where sex in ('female', 'male')), 0) as female,
    quantile_cont(days, 0.5) as median_days,
    count(*) filter (where ended = 'revised') as revised,
    count(*) filter (where ended = 'died') as died,
    count(*) filter (where ended = 'lost') as lost
from follow_up
where {predicate}
group by all
