"""JSON and CSV carry every digit and every character, and nothing that their standards do not have."""

import csv
import io
import json
from datetime import date
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from regdash.output.listing import Listing
from regdash.output.machine import as_csv, as_json


def one(value):
    return Listing("test", ("value",), [(value,)])


def read_json(listing):
    return json.loads(as_json(listing), parse_constant=pytest.fail)["rows"][0]["value"]


def read_csv(listing):
    return list(csv.reader(io.StringIO(as_csv(listing), newline=""), strict=True))[1][0]


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_float_reads_back_to_the_same_number(value):
    assert read_json(one(value)) == value
    assert float(read_csv(one(value))) == value


@given(st.text(st.characters(codec="utf-8")))
def test_a_text_reads_back_to_the_same_characters(value):
    assert read_json(one(value)) == value
    assert read_csv(one(value)) == value


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf"), Decimal("NaN"), None])
def test_what_is_no_number_is_null_and_an_empty_cell(value):
    assert read_json(one(value)) is None
    assert read_csv(one(value)) == ""


@pytest.mark.parametrize(
    ("value", "read"),
    [
        (Decimal("30"), 30),
        (Decimal("0.1"), 0.1),
        (Decimal("0.12345678901234567890"), "0.12345678901234567890"),
        (Decimal(10) ** 30, 10**30),
        (date(2024, 12, 31), "2024-12-31"),
        (np.float64(0.1), 0.1),
        (True, True),
        ([1, None], [1, None]),
        ({"a": date(2024, 1, 1)}, {"a": "2024-01-01"}),
    ],
)
def test_values_of_the_database_keep_what_they_say(value, read):
    found = read_json(one(value))
    assert found == read
    assert type(found) is type(read)


def test_csv_is_that_of_its_standard():
    """RFC 4180: a header, commas, CRLF after every record, quotes doubled within quotes."""
    listing = Listing("test", ("group", "text"), [("a,b", 'says "no"'), ("two\nlines", None)])
    assert as_csv(listing) == 'group,text\r\n"a,b","says ""no"""\r\n"two\nlines",\r\n'


def test_json_is_written_a_row_a_line():
    lines = as_json(Listing("test", ("n",), [(1,), (2,)])).splitlines()
    assert lines == ["{", '  "measure": "test",', '  "rows": [', '    {"n": 1},', '    {"n": 2}', "  ]", "}"]
