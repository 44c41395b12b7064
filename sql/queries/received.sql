-- What became of the rows that each sender's submissions of each kind held.
--
-- grain:    kind, sender
-- reads:    submissions, submission_files
-- columns:  kind           varchar  operations, catalogue, units, deaths, losses or admin_counts
--           sender         varchar  hospital, or office for the feeds that no hospital sends
--           submissions    bigint   how many
--           last_received  varchar  date of the last
--           received       bigint   rows
--           accepted       bigint   rows counted, or counted until a correction replaced them
--           held           bigint   rows kept back, or kept back until a correction replaced them
--           rejected       bigint   rows not taken in
--           known_already  bigint   rows that say what an earlier row had said
with

files as (
    select
        submission_id,
        sum(received)::bigint as received,
        sum(accepted)::bigint as accepted,
        sum(held)::bigint as held,
        sum(rejected)::bigint as rejected,
        sum(known_already)::bigint as known_already
    from submission_files
    group by submission_id
)

select
    submissions.kind,
    submissions.sender,
    count(*) as submissions,
    max(submissions.received_date)::varchar as last_received,
    coalesce(sum(files.received), 0)::bigint as received,
    coalesce(sum(files.accepted), 0)::bigint as accepted,
    coalesce(sum(files.held), 0)::bigint as held,
    coalesce(sum(files.rejected), 0)::bigint as rejected,
    coalesce(sum(files.known_already), 0)::bigint as known_already
from submissions
left join files on files.submission_id = submissions.submission_id
where ($senders::varchar[] is null or list_contains($senders, submissions.sender))
    and not list_contains($others::varchar[], submissions.sender)
group by submissions.kind, submissions.sender
order by submissions.kind, submissions.sender
