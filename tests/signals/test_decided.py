"""The decisions of a period as moves: what stood before, whenever that was, and which days count."""

from datetime import date
from unittest import mock

import pytest

from regdash.signals.decided import moves
from regdash.store.signal_reviews import EVERY, RestsOn, Unit, decide, reviews_known
from tests.cli.asking import one_line, regdash

UNIT = Unit("implants", "knee", "total", "tibial", "KT-015")
OTHER = Unit("lots", "hip", "total", "shell", "HC-002 lot L1")
RESTS = RestsOn("2024-12-31.1", "abc", "joint=knee", "1", "def")
TAKEN = (
    ("2023-11-02T23:59:59Z", UNIT, EVERY, "under review"),
    ("2024-01-01T00:00:00Z", UNIT, EVERY, "confirmed"),
    ("2024-03-31T23:59:59Z", OTHER, "0..1", "watching"),
    ("2024-03-31T23:59:59Z", UNIT, "0..1", "closed"),
    ("2024-04-01T00:00:00Z", OTHER, EVERY, "closed"),
)


@pytest.fixture
def store(tmp_path):
    for at, unit, window, state in TAKEN:
        with mock.patch("regdash.store.signal_reviews.now", return_value=at):
            decide(tmp_path, unit, window, state, "the minutes of the committee", RESTS)
    return tmp_path


def test_a_move_says_what_stood_before_even_where_that_is_of_an_earlier_period(store):
    """By hand: the window 0..1 of the implant stood as every window of it did; the lot was new."""
    found = moves(reviews_known(store), date(2024, 1, 1), date(2024, 3, 31))
    assert [(one.date, one.code, one.window, one.before, one.after) for one in found] == [
        ("2024-01-01", "KT-015", "every", "under review", "confirmed"),
        ("2024-03-31", "HC-002 lot L1", "0..1", "new", "watching"),
        ("2024-03-31", "KT-015", "0..1", "confirmed", "closed"),
    ]


def test_the_command_lists_them_with_and_without_codes_and_as_of_a_day(store):
    rows = regdash("signals", "decided", "2024Q1", "--json", store=store).json["rows"]
    assert [(row["kind"], row["class"], row["from"], row["to"]) for row in rows] == [
        ("implants", "total", "under review", "confirmed"),
        ("lots", "total", "new", "watching"),
        ("implants", "total", "confirmed", "closed"),
    ]
    bare = regdash("signals", "decided", "2024Q1", "--without-codes", "--csv", store=store).csv
    assert [{**row, "code": one["code"]} for row, one in zip(bare, rows)] == rows
    early = regdash("signals", "decided", "2024", "--reviews-as-of", "2024-02-01", "--json", store=store).json
    assert [row["to"] for row in early["rows"]] == ["confirmed"]
    page = regdash("signals", "decided", "2024", store=store).stdout
    assert page.split()[:4] == ["date", "code", "from", "to"]  # where a review moved to is never left out for width
    assert "the minutes" not in page
    said = regdash("signals", "decided", "soon", store=store)
    assert (said.code, one_line(said)) == (1, "soon is not a date. Write 2015, 2015Q1, 2015-03 or 2015-03-31.")
