-- Revisions by group, leading reason, what was done and what was used beside ordinary components.
--
-- grain:    the grouping columns, reason, action, stem, augment, graft, counted, linked
-- reads:    follow_up, revision_episodes, links, operations, revision_reasons, hospitals
-- needs:    grouping, reason, predicate, revisions
-- columns:  reason     integer  place of the leading reason in its list; -1 where it is in none
--           action     integer  place of what was done in the list of actions
--           stem       integer  1 where a stem was used
--           augment    integer  1 where an augment was used
--           graft      integer  1 where bone graft was used
--           counted    integer  1 where it ended its joint's follow-up, so that rates count it
--           linked     integer  1 where it has a primary here
--           revisions  bigint   revisions
select
    {grouping}
    coalesce(enum_code({reason})::integer, -1) as reason,
    enum_code(action)::integer as action,
    stem_used::integer as stem,
    augment_used::integer as augment,
    graft_used::integer as graft,
    is_counted::integer as counted,
    is_linked::integer as linked,
    count(*) as revisions
from ({revisions}) as revisions_done
where {predicate}
group by all
