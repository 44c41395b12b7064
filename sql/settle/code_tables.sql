-- What the vocabulary says of roles, materials and reasons, where statements can join it. Filled from the vocabulary.
--
-- creates:  roles, naming_roles, conversions, taken_out, bearing_couples, reason_ranks

-- No row of what is settled and frozen needs an order of its own, so the database may write with all its threads.
set preserve_insertion_order = false;

-- A role of a joint: the place that it fills (null where there may be several), what kind of part it is, and which of
-- two sliding parts or which humeral design it gives.
create or replace temp table roles (
    joint          varchar,
    role           varchar,
    place          tinyint,
    is_part        boolean,
    is_bearing     boolean,
    is_fixed       boolean,
    couple_side    varchar,
    couple_rank    tinyint,
    humeral_design varchar
);

create or replace temp table naming_roles (joint varchar, class varchar, role varchar, name_no tinyint, is_alone boolean);

-- A role that shows, where it is put into a joint of one class, that it became one of another: by itself, or only where
-- the catalogue has it for that class, since both classes have the role.
create or replace temp table conversions (
    joint        varchar,
    from_class   varchar,
    to_class     varchar,
    role         varchar,
    by_catalogue boolean
);

create or replace temp table taken_out (joint varchar, action varchar, role varchar);

create or replace temp table bearing_couples (head_material varchar, liner_material varchar, couple varchar);

create or replace temp table reason_ranks (joint varchar, reason varchar, reason_group varchar, rank smallint)
