-- Operations of a cohort: on which day each one's follow-up for death ended, and how. An operation is what one patient
-- had done to one kind of joint on one day: both sides are one, a knee and a hip are two. Death ends follow-up, then
-- loss (emigration, opt-out), then the date through which deaths are known; on one day death counts before loss. A
-- revision ends nothing, and the hospital's own feed does not either, since deaths come from another. What comes is
-- tallied where it arrives, as in event_rows.
--
-- grain:    operation; one with sides in two groups comes once in each
-- reads:    follow_up, losses, patients
-- needs:    grouping, predicate
-- columns:  day      integer  whole days since the operation; 0 is its own day
--           outcome  tinyint  0 alive when follow-up ended, 1 died
with

lost as (
    select patients.patient_no, losses.loss_date
    from losses
    inner join patients on patients.patient_id = losses.patient_id
),

operations as (
    select
        {grouping}
        patient_no,
        joint,
        implanted_date,
        min(died_day) as died_day
    from follow_up
    where {predicate}
    group by all
),

ends as (
    select
        operations.* exclude (patient_no, joint, implanted_date),
        least(
            operations.died_day,
            lost.loss_date - operations.implanted_date,
            $deaths_known::date - operations.implanted_date
        )::integer as day
    from operations
    left join lost on lost.patient_no = operations.patient_no
)

select
    ends.* exclude (died_day),
    (died_day is not null and died_day = day)::tinyint as outcome
from ends
