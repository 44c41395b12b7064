-- The vocabulary's orders, where statements can join them: the roles that name a construct, and the
-- rank of each reason. Filled from the vocabulary.
--
-- creates:  naming_roles, reason_ranks

create or replace temp table naming_roles (joint varchar, role varchar, name_no tinyint);

create or replace temp table reason_ranks (joint varchar, reason varchar, reason_group varchar, rank smallint)
