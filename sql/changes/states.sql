-- The joints of a cohort in one cut as its follow-up has them: where they are counted, from when to when, and
-- whether a revision ended it. Run with that cut as the current database.
--
-- creates:  states_{which}
-- reads:    follow_up
-- needs:    which, groups, predicate

create or replace temp table states_{which} as
select
    operation_id,
    patient_id,
    [{groups}] as place,
    implanted_date,
    implanted_date + days as end_date,
    ended = 'revised' as is_revised,
    revision_operation_id
from follow_up
where {predicate}
