-- How many primaries of each class each surgeon did, year by year, and which part of the surgeon's primaries of
-- that joint they were. Joints without a recorded surgeon are left out.
--
-- grain:    surgeon_id, joint, class, year
-- reads:    follow_up
-- columns:  surgeon_id      varchar   responsible surgeon
--           joint           varchar   knee, hip or shoulder
--           class           varchar   class of the primary
--           year            smallint  calendar year
--           primaries       bigint    primaries of the class in that year
--           hospitals       bigint    hospitals they were done at
--           share_of_joint  double    of the surgeon's primaries of the joint in that year, 0 to 1
--           mean_volume     double    mean of surgeon_volume at them; null in the surgeon's first 365 days
with

volumes as (
    select
        surgeon_id,
        joint,
        class,
        implanted_year as year,
        count(*) as primaries,
        count(distinct hospital_id) as hospitals,
        avg(surgeon_volume) as mean_volume
    from follow_up
    where surgeon_id::varchar <> 'not recorded'
    group by surgeon_id, joint, class, implanted_year
)

select
    surgeon_id::varchar as surgeon_id,
    joint::varchar as joint,
    class::varchar as class,
    year,
    primaries,
    hospitals,
    primaries / sum(primaries) over (partition by surgeon_id, joint, year) as share_of_joint,
    mean_volume
from volumes
