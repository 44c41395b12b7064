-- Primaries and revisions by group and period of the operation itself. Primaries are the joints of follow_up.
--
-- grain:    the grouping columns, period
-- reads:    follow_up, revision_episodes, links, operations, revision_reasons, hospitals
-- needs:    grouping, period, predicate, of_revisions, revisions
-- columns:  period         integer  number of the year, quarter or month
--           primaries      bigint   primaries
--           revisions      bigint   revisions, two stages as one
--           first          bigint   first revisions of a joint that is registered
--           later          bigint   later ones
--           unlinked       bigint   revisions without a primary here
--           second_stages  bigint   second stages, counted with their first
--           uncounted      bigint   linked revisions after the end of what is complete for their joint
with

operations_done as (
    select *, true as is_primary, true as is_linked, implanted_date as done_date from follow_up
    union all by name
    select *, false as is_primary from ({revisions}) as revisions_done where {of_revisions}
)

select
    {grouping}
    {period} as period,
    count(*) filter (where is_primary) as primaries,
    count(*) filter (where not is_primary) as revisions,
    count(*) filter (where not is_primary and is_linked and sequence = 1) as first,
    count(*) filter (where not is_primary and is_linked and sequence > 1) as later,
    count(*) filter (where not is_primary and not is_linked) as unlinked,
    coalesce(sum(stages - 1) filter (where not is_primary), 0)::bigint as second_stages,
    count(*) filter (where not is_primary and is_uncounted) as uncounted
from operations_done
where {predicate}
group by all
