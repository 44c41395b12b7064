-- The decisions of people on links that stand at the date, one a revision; filled by the program.
--
-- creates:  link_decisions

create or replace temp table link_decisions (
    operation_id         varchar not null,
    primary_operation_id varchar not null,
    decision             varchar not null,
    decided_by           varchar not null,
    decided_on           date not null
)
