-- Catalogue entries with each cell as text and as a value.
--
-- creates:  read_catalogue
-- needs:    role, joint, class, bearing, constraint, fixation, material, side

create or replace temp table read_catalogue as
select
    p.*,
    catalogue_no_text as record_id,
    catalogue_no_text as catalogue_no,
    gtin_text as gtin,
    maker_text as maker,
    implant_text as implant,
    {role} as role,
    {joint} as joint,
    {class} as class,
    {bearing} as bearing,
    {constraint} as constraint_design,
    {fixation} as fixation,
    {material} as material,
    size_text as size,
    {side} as side,
    iso_date(introduced_date_text) as introduced_date,
    iso_date(withdrawn_date_text) as withdrawn_date
from placed_catalogue as p
