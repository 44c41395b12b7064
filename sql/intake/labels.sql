-- Labels of the components at hand, with the year they were received in, which tells the century of their dates.
--
-- creates:  placed_labels

create or replace temp view placed_labels as
select udi_text as raw, year(known_from) as seen from placed_components where udi_text <> ''
