-- What each envelope of operations and of deaths said of how far its feed was complete, and when it came.
--
-- grain:    submission
-- reads:    submissions
-- columns:  hospital          integer  number of the hospital in the cut's list; -1 for deaths
--           received          integer  day on which it came, since 1970
--           complete_through  integer  day through which the feed is complete, since 1970
select
    case when kind = 'deaths' then -1 else enum_code(try_cast(sender as hospital_codes))::integer end as hospital,
    (received_date - date '1970-01-01')::integer as received,
    (complete_through - date '1970-01-01')::integer as complete_through
from submissions
where kind = 'deaths' or (kind = 'operations' and try_cast(sender as hospital_codes) is not null)
