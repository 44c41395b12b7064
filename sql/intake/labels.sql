-- Labels of the components at hand that must be taken apart, with the year they were received in, which tells the
-- century of their dates. Most labels have one plain form, printed or scanned, with a check digit that holds and dates
-- that every month has: nothing is wrong with them, and a pattern sees it a hundred times as fast.
--
-- creates:  label_is_plain, placed_labels

create or replace temp macro label_is_plain(label) as
    regexp_full_match(
        label,
        '\(01\)[0-9]{14}(?:\(11\)[0-9]{2}(?:0[1-9]|1[0-2])(?:[01][0-9]|2[0-8]))?(?:\(17\)[0-9]{2}(?:0[1-9]|1[0-2])(?:[01][0-9]|2[0-8]))?(?:\(10\)[0-9A-Za-z]{1,20})?(?:\(21\)[0-9A-Za-z]{1,20})?'
        || '|01[0-9]{14}(?:11[0-9]{2}(?:0[1-9]|1[0-2])(?:[01][0-9]|2[0-8]))?(?:17[0-9]{2}(?:0[1-9]|1[0-2])(?:[01][0-9]|2[0-8]))?(?:10[0-9A-Za-z]{1,20}\x1d)?(?:21[0-9A-Za-z]{1,20})?'
    )
    and gtin_check_holds(regexp_extract(label, '^[(]?01[)]?([0-9]{14})', 1));

create or replace temp view placed_labels as
select udi_text as raw, year(known_from) as seen
from placed_components
where udi_text <> '' and not label_is_plain(udi_text)
