-- Which version of a record stands where there are several: the one of the highest sequence
-- that says something new. Earlier ones are replaced; those that say the same again repeat.
--
-- creates:  versions_{table}
-- needs:    table, key, key_of_t, same_key, content

create or replace temp table versions_{table} as
with

several as (
    select {key} from {table} where known_from <= $as_of group by all having count(*) > 1
),

told as (
    select t.version_no, t.known_from, {key_of_t}, s.sequence, s.submission_id, t.row_no, {content} as said
    from {table} as t
    join submissions as s on s.submission_no = t.submission_no
    semi join several as r on {same_key}
    where t.known_from <= $as_of
),

compared as (
    select
        *,
        said is not distinct from lag(said) over (partition by {key} order by sequence, submission_id, row_no) as repeats
    from told
),

news as (
    select
        version_no,
        lead(known_from) over in_order as replaced_on,
        row_number() over (partition by {key} order by sequence desc, submission_id desc, row_no desc) = 1 as stands
    from compared
    where not repeats
    window in_order as (partition by {key} order by sequence, submission_id, row_no)
)

select
    c.version_no,
    case when c.repeats then 'repeat' when n.stands then 'current' else 'replaced' end as standing,
    case
        when c.repeats then c.known_from
        when n.replaced_on is not null then greatest(c.known_from, n.replaced_on)
    end as known_to
from compared as c
left join news as n on n.version_no = c.version_no
