-- Submissions that change operations which a data cut had counted; filled by the program.
--
-- creates:  corrected_submissions

create table corrected_submissions (
    submission_id varchar not null,
    hospital_id   varchar not null,
    known_from    date not null,
    cut           varchar not null,
    operations    integer not null
)
