"""Device labels, against published examples. Sources stand beside each; "from memory" where none was at hand."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from regdash.errors import InputError
from regdash.udi import FAULTS, UDI, Unparsed, check_digit, gtin14, read_label
from tests.labels import labels

GS = "\x1d"


@pytest.mark.parametrize(
    ("body", "digit"),
    [
        # GS1's pages on check digits: the worked example of a GTIN-13 and those of the check-digit calculator.
        ("629104150021", 3),
        ("0952123454321", 3),
        ("2345678", 5),
        # GTIN-12 of the GS1 General Specifications' figures, 614141007349 (from memory).
        ("61414100734", 9),
    ],
)
def test_the_check_digit_is_the_published_one(body, digit):
    assert check_digit(body) == digit
    assert gtin14(f"{body}{digit}") == f"{body}{digit}".zfill(14)


@given(st.text("0123456789", min_size=13, max_size=13), st.integers(0, 12), st.integers(1, 9))
def test_the_check_digit_finds_every_single_wrong_digit(body, place, more):
    """A property of weights 3 and 1, both prime to ten."""
    wrong = body[:place] + str((int(body[place]) + more) % 10) + body[place + 1 :]
    assert check_digit(wrong) != check_digit(body)


@pytest.mark.parametrize("body", ["", "12345678", "62910415002a", "६२९१०४१५००२१"])
def test_what_is_no_gtin_has_no_check_digit(body):
    with pytest.raises(InputError, match="GTIN"):
        check_digit(body)
    assert gtin14(body) is None


# Element strings: HL7 FHIR's Device example "example-udi1" (January 2016 to R4), whose GTIN is of GS1's own
# demonstration prefix, 950; brackets where the example has braces, and as a scanner sends it (from memory).
FHIR = UDI("09504000059118", date(2014, 11, 20), None, "7654321D", "10987654d321")
# A published parser's worked example of a lot in the middle, with another GTIN of that prefix.
LOT_IN_THE_MIDDLE = UDI("09504000059118", date(2024, 10, 31), None, "628S93R", "8898847482518646")


@pytest.mark.parametrize(
    ("raw", "expected"),
    [
        ("(01)09504000059118(17)141120(10)7654321D(21)10987654d321", FHIR),
        (f"010950400005911817141120107654321D{GS}2110987654d321", FHIR),
        (f"]d2010950400005911817141120107654321D{GS}2110987654d321", FHIR),
        (f"]C1{GS}010950400005911817141120{GS}107654321D{GS}2110987654d321{GS}\r\n", FHIR),
        (" (01) 09504000059118 (17) 141120 (10) 7654321D (21) 10987654d321", FHIR),
        (f"010950400005911810628S93R{GS}17241000218898847482518646", LOT_IN_THE_MIDDLE),
        ("]E06291041500213", UDI("06291041500213", None, None, None, None)),
        ("09521234543213", UDI("09521234543213", None, None, None, None)),
        # Other elements are passed over, those of fixed length without a separator, others up to one.
        (f"01095212345432133103001750240AB/7{GS}10A7", UDI("09521234543213", None, None, "A7", None)),
        ("(01)09521234543213(240)AB/7(10)A7", UDI("09521234543213", None, None, "A7", None)),
    ],
)
def test_a_label_says_what_its_publisher_says(raw, expected):
    assert read_label(raw, 2024) == expected


@pytest.mark.parametrize(
    ("raw", "fault"),
    [
        ("", "empty"),
        (" ", "empty"),
        # The FDA's examples of the formats of other issuing agencies (HIBCC, ICCBBA).
        ("+H123PARTNO1234567890120/$$420020216LOT123456789012345/SXYZ456789012345678/16D20130202C", "other-agency"),
        ("=/A9999XYZ100T0944=,000025=A99971312345600", "other-agency"),
        ("unreadable", "not-gs1"),
        ("(01)0952123454321(17)141120", "not-gs1"),
        ("0109521234543213zz", "not-gs1"),
        ("(17)141120(10)7654321D", "gtin-missing"),
        ("(01)09521234543214", "check-digit"),
        ("6291041500214", "check-digit"),
        (f"010952123454321310A{GS}10B", "repeated"),
        ("(01)09521234543213(17)141320", "date"),
        ("(01)09521234543213(17)230229", "date"),
        ("(01)09521234543213(11)000000", "date"),
        ("(01)09521234543213(10)", "lot"),
        ("010952123454321310ABCDEFGHIJ1725010121XYZ12345", "lot"),  # the separator behind the lot was lost
        ("(01)09521234543213(21)123456789012345678901", "serial"),
    ],
)
def test_what_cannot_be_read_is_kept_with_its_reason(raw, fault):
    label = read_label(raw, 2024)
    assert label == Unparsed(raw, fault)
    assert isinstance(label, Unparsed)
    assert label.reason == FAULTS[fault]


@pytest.mark.parametrize(
    ("digits", "expected"),
    [("240200", date(2024, 2, 29)), ("230200", date(2023, 2, 28)), ("251200", date(2025, 12, 31))],
)
def test_day_00_is_the_last_of_its_month(digits, expected):
    label = read_label(f"(01)09521234543213(17){digits}", 2024)
    assert isinstance(label, UDI)
    assert label.expiry_date == expected


@pytest.mark.parametrize(
    ("seen", "digits", "year"),
    # GS1 General Specifications, determination of century: 51 to 99 ahead is the century before, 50 to 99 behind
    # the next.
    [(2024, "74", 2074), (2024, "75", 1975), (2060, "10", 2110), (2060, "11", 2011), (1999, "00", 2000)],
)
def test_a_year_is_of_the_century_that_is_nearest(seen, digits, year):
    label = read_label(f"(01)09521234543213(17){digits}0101", seen)
    assert isinstance(label, UDI)
    assert label.expiry_date == date(year, 1, 1)


@given(labels(), st.integers(1990, 2060))
def test_a_label_is_read_or_has_a_reason_and_never_an_error(raw, year):
    label = read_label(raw, year)
    assert isinstance(label, UDI) or (label.raw == raw and label.fault in FAULTS)
