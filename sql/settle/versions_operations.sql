-- Which version of an operation stands where there are several. A version is the operation
-- with its components and reasons: one that differs anywhere replaces the whole.
--
-- creates:  versions_operations
-- needs:    content

create or replace temp table versions_operations as
with

several as (
    select operation_id from operations where known_from <= $as_of group by all having count(*) > 1
),

versions as (
    select o.*, s.sequence, s.submission_id
    from operations as o
    join submissions as s on s.submission_no = o.submission_no
    semi join several as r on r.operation_id = o.operation_id
    where o.known_from <= $as_of
),

parts as (
    select
        c.version_no,
        list(row(line_no, role, action, catalogue_no, lot, serial, expiry_date, udi) order by line_no) as parts
    from components as c
    semi join versions as v on v.version_no = c.version_no
    group by all
),

reasons as (
    select r.version_no, list(row(line_no, reason, leads, note) order by line_no) as reasons
    from revision_reasons as r
    semi join versions as v on v.version_no = r.version_no
    group by all
),

told as (
    select
        v.version_no, v.submission_no, v.operation_id, v.known_from, v.sequence, v.submission_id,
        row({content}, p.parts, r.reasons) as said
    from versions as v
    left join parts as p on p.version_no = v.version_no
    left join reasons as r on r.version_no = v.version_no
),

compared as (
    select
        *,
        said is not distinct from lag(said) over (partition by operation_id order by sequence, submission_id) as repeats
    from told
),

news as (
    select
        version_no,
        lead(known_from) over (partition by operation_id order by sequence, submission_id) as replaced_on,
        row_number() over (partition by operation_id order by sequence desc, submission_id desc) = 1 as stands
    from compared
    where not repeats
)

select
    c.version_no,
    c.submission_no,
    c.operation_id,
    case when c.repeats then 'repeat' when n.stands then 'current' else 'replaced' end as standing,
    case
        when c.repeats then c.known_from
        when n.replaced_on is not null then greatest(c.known_from, n.replaced_on)
    end as known_to
from compared as c
left join news as n on n.version_no = c.version_no
