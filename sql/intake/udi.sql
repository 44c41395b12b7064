-- What a device label says: GTINs and their check digits, and GS1 element strings as scanned or as
-- printed in brackets. It reads as regdash/udi.py does; chr(29) is the separator of elements.
-- `read_labels` puts these together. udi_fault_of is null where a label was read, else a key of udi.FAULTS.
--
-- creates:  gtin_sum, gtin_check_holds, gtin14, udi_trimmed, udi_text, udi_form, udi_elements, udi_value, udi_full_year, udi_date, udi_known, udi_fault_of

-- The digits weighted 1, 3, 1, 3… from the right make a whole ten. Arithmetic on one number: ten times as fast as a list.
create or replace temp macro gtin_sum(n) as
    (
        n % 10 + 3 * (n // 10 % 10) + (n // 100 % 10) + 3 * (n // 1000 % 10)
        + (n // 10000 % 10) + 3 * (n // 100000 % 10) + (n // 1000000 % 10) + 3 * (n // 10000000 % 10)
        + (n // 100000000 % 10) + 3 * (n // 1000000000 % 10) + (n // 10000000000 % 10) + 3 * (n // 100000000000 % 10)
        + (n // 1000000000000 % 10) + 3 * (n // 10000000000000 % 10)
    );
create or replace temp macro gtin_check_holds(digits) as
    case
        when regexp_full_match(digits, '[0-9]{8}|[0-9]{12,14}') then gtin_sum(cast(digits as bigint)) % 10 = 0
        else false
    end;
create or replace temp macro gtin14(digits) as
    case when gtin_check_holds(digits) then lpad(digits, 14, '0') end;

-- The label without blanks, symbology identifier and leading separator.
create or replace temp macro udi_trimmed(raw) as
    regexp_replace(trim(raw, e' \t\r\n'), '^(?:\][A-Za-z][0-9A-Za-z])?\x1d?', '');
-- Brackets become separators, and a GTIN alone an element.
create or replace temp macro udi_text(label) as
    case
        when regexp_full_match(label, '[0-9]{8}|[0-9]{12,14}') then '01' || lpad(label, 14, '0')
        when regexp_matches(label, '^[ \x1d]*\([0-9]{2,4}\)')
            then regexp_replace(
                regexp_replace(label, '[ \x1d]*\(([0-9]{2,4})\) *', chr(29) || '\1', 'g'), '^\x1d', ''
            )
        else label
    end;
create or replace temp macro udi_form(label) as
    case
        when regexp_matches(label, '^[ \x1d]*\([0-9]{2,4}\)')
            then regexp_full_match(
                udi_text(label),
                '(?:(?:00[0-9]{18}|0[1-3][0-9]{14}|04[0-9]{16}|1[1-9][0-9]{6}|20[0-9]{2}|3[1-6][0-9]{8}|41[0-9]{14}|(?:0[5-9]|10|2[1-9]|3[07-9]|40|4[2-9]|[5-9][0-9])[!"%&''()*+,\-./0-9:;<=>?A-Z_a-z]*)(?:\x1d|$))+'
            )
        else regexp_full_match(
            udi_text(label),
            '(?:(?:00[0-9]{18}|0[1-3][0-9]{14}|04[0-9]{16}|1[1-9][0-9]{6}|20[0-9]{2}|3[1-6][0-9]{8}|41[0-9]{14})\x1d?|(?:0[5-9]|10|2[1-9]|3[07-9]|40|4[2-9]|[5-9][0-9])[!"%&''()*+,\-./0-9:;<=>?A-Z_a-z]*(?:\x1d|$))+'
        )
    end;
-- The elements of a label of the right form, each with its application identifier in front.
create or replace temp macro udi_elements(label) as
    regexp_extract_all(
        udi_text(label),
        '(00[0-9]{18}|0[1-3][0-9]{14}|04[0-9]{16}|1[1-9][0-9]{6}|20[0-9]{2}|3[1-6][0-9]{8}|41[0-9]{14}|(?:0[5-9]|10|2[1-9]|3[07-9]|40|4[2-9]|[5-9][0-9])[!"%&''()*+,\-./0-9:;<=>?A-Z_a-z]*)\x1d?',
        1
    );
-- The value of the first element with an application identifier of two digits; null where there is none.
create or replace temp macro udi_value(elements, ai) as
    list_filter(elements, lambda element: starts_with(element, ai))[1][3:];
-- YYMMDD; day 00 is the month's last. The century puts the year between 49 before and 50 after the given one.
create or replace temp macro udi_full_year(yy, seen) as
    seen - seen % 100 + yy
    + case when yy - seen % 100 >= 51 then -100 when yy - seen % 100 <= -50 then 100 else 0 end;
create or replace temp macro udi_date(digits, seen) as
    case
        when digits[5:] = '00'
            then last_day(
                try_cast(udi_full_year(cast(digits[:2] as integer), seen) || '-' || digits[3:4] || '-01' as date)
            )
        else
            try_cast(
                udi_full_year(cast(digits[:2] as integer), seen) || '-' || digits[3:4] || '-' || digits[5:] as date
            )
    end;
create or replace temp macro udi_known(elements) as
    list_filter(elements, lambda element: element[:2] in ('01', '10', '11', '17', '21'));

create or replace temp macro udi_fault_of(label, elements, gtin, lot, serial, made, made_date, expiry, expiry_date) as
    case
        when label is null or label = '' then 'empty'
        when label[1] in ('+', '=', '&') then 'other-agency'
        when not udi_form(label) then 'not-gs1'
        when list_unique(udi_known(elements))
            > list_unique(list_transform(udi_known(elements), lambda element: element[:2]))
            then 'repeated'
        when gtin is null then 'gtin-missing'
        when not gtin_check_holds(gtin) then 'check-digit'
        when made is not null and made_date is null or expiry is not null and expiry_date is null then 'date'
        when not length(lot) between 1 and 20 then 'lot'
        when not length(serial) between 1 and 20 then 'serial'
    end;
