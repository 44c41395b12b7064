"""
What a device label says: GTINs and their check digits, and GS1 element strings as scanned or as printed in brackets.

A label that cannot be read is never an error: it comes back with the reason, and whoever asked keeps it as it was sent.
`sql/intake/udi.sql` reads the same strings in bulk; a test holds that both agree.

Source: GS1 General Specifications, sections on check digits, on application identifiers (01), (10), (11), (17), (21),
on predefined lengths, on processing of data and on the determination of century in dates.
"""

import calendar
import re
from dataclasses import dataclass
from datetime import date

from regdash.errors import InputError

SEPARATOR = "\x1d"  # FNC1 as a scanner transmits it: ASCII 29, group separator
GTIN_LENGTHS = (8, 12, 13, 14)

# Why a label could not be read, in the order in which it is looked for.
FAULTS = {
    "empty": "No label was given.",
    "other-agency": "The label begins as those of other issuing agencies do; only GS1 labels are read.",
    "not-gs1": "The label is no GS1 element string, neither as scanned nor in brackets.",
    "repeated": "The label gives one application identifier twice, with different values.",
    "gtin-missing": "The label has no GTIN, application identifier (01).",
    "check-digit": "The last digit of the GTIN does not follow from the others.",
    "date": "A date of the label, application identifier (11) or (17), is no day of the calendar.",
    "lot": "The lot, application identifier (10), has more than 20 characters or none; a separator may be lost.",
    "serial": "The serial number, application identifier (21), has more than 20 characters or none; "
    "a separator may be lost.",
}

_CHARACTER = r"""[!"%&'()*+,\-./0-9:;<=>?A-Z_a-z]"""  # GS1 character set 82
# Elements whose length follows from their first two digits; they need no separator behind them.
_FIXED = "|".join(
    (
        "00[0-9]{18}",
        "0[1-3][0-9]{14}",
        "04[0-9]{16}",
        "1[1-9][0-9]{6}",
        "20[0-9]{2}",
        "3[1-6][0-9]{8}",
        "41[0-9]{14}",
    )
)
_VARIABLE = rf"(?:0[5-9]|10|2[1-9]|3[07-9]|40|4[2-9]|[5-9][0-9]){_CHARACTER}*"
_SCANNED = re.compile(rf"(?:{_FIXED}){SEPARATOR}?|{_VARIABLE}(?:{SEPARATOR}|\Z)")
_PRINTED = re.compile(rf"(?:{_FIXED}|{_VARIABLE})(?:{SEPARATOR}|\Z)")
_ALL_SCANNED, _ALL_PRINTED = (re.compile(f"(?:{one.pattern})+") for one in (_SCANNED, _PRINTED))

_IN_FRONT = re.compile(rf"\A(?:\][A-Za-z][0-9A-Za-z])?{SEPARATOR}?")  # symbology identifier: ]C1, ]d2, ]Q3, ]E0 …
_BRACKETS = re.compile(r"[ \x1d]*\(([0-9]{2,4})\)[ ]*")
_TEXT = re.compile(rf"{_CHARACTER}{{1,20}}")
_BLANKS = " \t\r\n"


@dataclass(frozen=True)
class UDI:
    """What a label says of a device and of this one of it."""

    gtin: str  # 14 digits, the check digit right
    expiry_date: date | None
    made_date: date | None
    lot: str | None
    serial: str | None


@dataclass(frozen=True)
class Unparsed:
    """A label that could not be read, as it was sent."""

    raw: str
    fault: str  # a key of FAULTS

    @property
    def reason(self) -> str:
        """What a person is told."""
        return FAULTS[self.fault]


def check_digit(body: str) -> int:
    """
    Compute the last digit of a GTIN from those before it.

    Args:
        body: 7, 11, 12 or 13 digits: a GTIN-8, -12, -13 or -14 without its check digit.

    Raises:
        InputError: it is not so many digits.

    Source:
        GS1 General Specifications: from the right, weights 3, 1, 3, 1…; what is missing to the next ten.

    >>> check_digit("629104150021")
    3
    """
    if not _are_digits(body) or len(body) + 1 not in GTIN_LENGTHS:
        raise InputError(f"{body!r} is not the 7, 11, 12 or 13 digits of a GTIN without its check digit.")
    return _check(body)


def _check(body: str) -> int:
    total = sum(int(digit) * (3 if place % 2 == 0 else 1) for place, digit in enumerate(reversed(body)))
    return -total % 10


def _are_digits(text: str) -> bool:
    return text.isascii() and text.isdecimal()


def gtin14(digits: str) -> str | None:
    """
    Pad a GTIN-8, -12, -13 or -14 to 14 digits; None where it is none or its check digit is wrong.

    >>> gtin14("6291041500213"), gtin14("6291041500214")
    ('06291041500213', None)
    """
    if not _are_digits(digits) or len(digits) not in GTIN_LENGTHS or _check(digits[:-1]) != int(digits[-1]):
        return None
    return digits.zfill(14)


def read_label(raw: str, year: int) -> UDI | Unparsed:
    """
    Read a label: an element string as scanned, the same printed with brackets, or a GTIN alone.

    Elements other than (01), (10), (11), (17) and (21) are passed over.

    Args:
        raw: the label, with or without a symbology identifier in front; separators are ASCII 29.
        year: the year it was received in, from which two-digit years get their century.

    >>> read_label("(01)09521234543213(17)250200(10)A7", 2024)
    UDI(gtin='09521234543213', expiry_date=datetime.date(2025, 2, 28), made_date=None, lot='A7', serial=None)
    >>> read_label("+H123PARTNO1", 2024).reason
    'The label begins as those of other issuing agencies do; only GS1 labels are read.'
    """
    text = _IN_FRONT.sub("", raw.strip(_BLANKS))
    values: dict[str, str] = {}
    fault = _fault_of_form(text) or _take_apart(text, values) or _fault_of_values(values, year)
    if fault:
        return Unparsed(raw, fault)
    expiry, made = (_day(values[ai], year) if ai in values else None for ai in ("17", "11"))
    return UDI(values["01"], expiry, made, values.get("10"), values.get("21"))


def _fault_of_form(text: str) -> str | None:
    if not text:
        return "empty"
    return "other-agency" if text[0] in "+=&" else None


def _take_apart(text: str, values: dict[str, str]) -> str | None:
    """Fill in the value of each application identifier; give a fault where that cannot be done."""
    if _are_digits(text) and len(text) in GTIN_LENGTHS:
        values["01"] = text.zfill(14)
        return None
    in_brackets = _BRACKETS.match(text)
    if in_brackets:
        text = _BRACKETS.sub(SEPARATOR + r"\1", text).removeprefix(SEPARATOR)
    one, several = (_PRINTED, _ALL_PRINTED) if in_brackets else (_SCANNED, _ALL_SCANNED)
    if not several.fullmatch(text):
        return "not-gs1"
    for element in one.findall(text):
        ai, value = element[:2], element[2:].removesuffix(SEPARATOR)
        if ai in ("01", "10", "11", "17", "21") and values.setdefault(ai, value) != value:
            return "repeated"
    return None


def _fault_of_values(values: dict[str, str], year: int) -> str | None:
    if "01" not in values:
        return "gtin-missing"
    if gtin14(values["01"]) is None:
        return "check-digit"
    if any(_day(values[ai], year) is None for ai in ("11", "17") if ai in values):
        return "date"
    named = {"10": "lot", "21": "serial"}
    return next((name for ai, name in named.items() if ai in values and not _TEXT.fullmatch(values[ai])), None)


def _day(digits: str, year: int) -> date | None:
    """
    Read YYMMDD; day 00 is the month's last. None where it is no day.

    The century is the one that puts the year between 49 before and 50 after the given one.
    """
    in_year, month, day = year - year % 100 + int(digits[:2]), int(digits[2:4]), int(digits[4:])
    ahead = in_year - year
    in_year += -100 if ahead >= 51 else 100 if ahead <= -50 else 0
    if not 1 <= month <= 12 or day > (last := calendar.monthrange(in_year, month)[1]):
        return None
    return date(in_year, month, day or last)
