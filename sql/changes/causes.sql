-- Each joint in both cuts, with what is different up to the earlier cut's through-date and why: first where it is
-- counted (presence, group, date of the primary), then how its follow-up ends. What happened after that date is
-- cut off here: it is new. Causes are numbered in the order in which they are replaced:
-- 1 definitions, 2 corrections, 3 links undone, 4 new links, 5 late events.
--
-- creates:  joints_compared
-- reads:    states_earlier, states_later, records_changed, earlier.follow_up, earlier.operations, earlier.links, later.links, earlier.deaths, later.deaths, earlier.losses, later.losses

create or replace temp table joints_compared as
with

paired as (
    select
        coalesce(b.operation_id, a.operation_id) as operation_id,
        coalesce(a.patient_id, b.patient_id) as patient_id,
        b.operation_id is not null as was_in,
        a.operation_id is not null as is_in,
        coalesce(a.implanted_date <= $through, false) as is_in_by_then,
        b.place as place_before,
        a.place as place_after,
        b.implanted_date as implanted_before,
        a.implanted_date as implanted_after,
        b.end_date as end_before,
        a.end_date as end_after,
        least(a.end_date, $through) as end_by_then,
        coalesce(b.is_revised, false) as revised_before,
        coalesce(a.is_revised, false) as revised_after,
        coalesce(a.is_revised and a.end_date <= $through, false) as revised_by_then,
        b.revision_operation_id as revision_before,
        a.revision_operation_id as revision_after
    from states_earlier as b
    full join states_later as a on a.operation_id = b.operation_id
),

differing as (
    select
        *,
        was_in <> is_in_by_then
            or (was_in and (place_before <> place_after or implanted_before <> implanted_after)) as stands_elsewhere,
        was_in and is_in_by_then
            and (end_before <> end_by_then or revised_before <> revised_by_then) as ends_otherwise
    from paired
),

told as (
    select
        d.*,
        p.became as primary_became,
        fb.operation_id is not null as was_followed,
        -- Counted as an operation before, on the same day, but not followed so far: its hospital's feed was behind.
        ob.kind = 'primary' and ob.operation_date = d.implanted_after and fb.operation_id is null as was_waiting,
        oc.operation_date = d.end_after and lb.primary_operation_id = d.operation_id as revision_was_waiting,
        -- The revision that ended follow-up before and does so no longer, or later.
        d.revised_before and (not d.revised_by_then or d.end_before < d.end_by_then)
            and d.end_before <= d.end_by_then as revision_left,
        rb.became as left_became,
        ra.became as came_became,
        lb.primary_operation_id is distinct from d.operation_id as came_was_apart,
        la.primary_operation_id is distinct from d.operation_id as left_is_apart,
        case
            when xa.death_date = d.end_by_then and not d.revised_by_then
                then case when xb.patient_id is null then 5 when xb.death_date <> xa.death_date then 2 end
            when xb.death_date = d.end_before and not d.revised_before
                then case when xa.patient_id is null then 1 when xb.death_date <> xa.death_date then 2 end
            when ya.loss_date = d.end_by_then and not d.revised_by_then
                then case when yb.patient_id is null then 5 when yb.loss_date <> ya.loss_date then 2 end
            when yb.loss_date = d.end_before and not d.revised_before
                then case when ya.patient_id is null then 1 when yb.loss_date <> ya.loss_date then 2 end
        end as end_of_life
    from differing as d
    left join records_changed as p on p.operation_id = d.operation_id
    left join records_changed as rb on rb.operation_id = d.revision_before
    left join records_changed as ra on ra.operation_id = d.revision_after
    left join earlier.follow_up as fb on fb.operation_id = d.operation_id
    left join earlier.operations as ob on ob.operation_id = d.operation_id
    left join earlier.operations as oc on oc.operation_id = d.revision_after
    left join earlier.links as lb on lb.operation_id = d.revision_after
    left join later.links as la on la.operation_id = d.revision_before
    left join earlier.deaths as xb on xb.patient_id = d.patient_id
    left join later.deaths as xa on xa.patient_id = d.patient_id
    left join earlier.losses as yb on yb.patient_id = d.patient_id
    left join later.losses as ya on ya.patient_id = d.patient_id
    where d.stands_elsewhere or d.ends_otherwise or not d.was_in or d.end_after is distinct from d.end_by_then
)

select
    * exclude (primary_became, was_followed, was_waiting, revision_was_waiting, revision_left, left_became, came_became, came_was_apart,
        left_is_apart, end_of_life),
    case
        when not stands_elsewhere then null
        when not was_in and was_waiting then 5
        when primary_became = 'corrected' then 2
        when primary_became in ('released', 'held') then 1
        when primary_became = 'late' then 5
        -- Nothing became of its record, so something that it does not say was worked out anew.
        else $worked_out_anew
    end as stands_by,
    case
        when not ends_otherwise then null
        when revision_left and left_became = 'corrected' then 2
        when revision_left and left_became = 'held' then 1
        when revision_left and left_is_apart then 3
        when revision_left then 1
        when revised_by_then and revision_was_waiting then coalesce(end_of_life, 5)
        when revised_by_then and came_became = 'corrected' then 2
        when revised_by_then and came_became = 'released' then 1
        when revised_by_then and came_became = 'late' then 5
        when revised_by_then and came_was_apart then 4
        when revised_by_then then 5
        when primary_became = 'corrected' then 2
        when end_of_life is not null then end_of_life
        when end_by_then >= end_before then 5
        else 1
    end as ends_by
from told
