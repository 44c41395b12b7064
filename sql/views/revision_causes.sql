-- Why joints of each class were revised: first revisions by leading reason. Shares shift with follow-up;
-- to compare classes read cumulative_incidence at the same time.
--
-- grain:    joint, class, reason_group, reason
-- reads:    follow_up
-- columns:  joint           varchar  knee, hip or shoulder
--           class           varchar  class of the primary
--           reason_group    varchar  group of the leading reason
--           reason          varchar  leading reason in detail; not recorded where only the group is known
--           revisions       bigint   joints first revised for it
--           share           double   of the first revisions of the class, 0 to 1
--           median_days     double   median days from implantation to that revision
with

revised as (
    select
        joint,
        class,
        coalesce(reason_group::varchar, 'not recorded') as reason_group,
        coalesce(reason::varchar, 'not recorded') as reason,
        days
    from follow_up
    where ended = 'revised'
),

causes as (
    select
        joint,
        class,
        reason_group,
        reason,
        count(*) as revisions,
        quantile_cont(days, 0.5)::double as median_days
    from revised
    group by joint, class, reason_group, reason
)

select
    joint::varchar as joint,
    class::varchar as class,
    reason_group,
    reason,
    revisions,
    revisions / sum(revisions) over (partition by joint, class) as share,
    median_days
from causes
