-- Rows of a relation that break any of its rules, found in one scan.
--
-- creates:  broken_rows
-- needs:    relation, any

create or replace temp table broken_rows as
from {relation} where {any}
