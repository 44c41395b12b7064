"""Counts by covariate pattern: what is refused, and who is at risk."""

from typing import Any

import numpy as np
import pytest

from regdash.errors import CountError
from regdash.stats.cox_counts import PatternCounts, pattern_counts
from regdash.stats.event_cells import event_cells
from regdash.stats.events import Entries, EventTable
from regdash.stats.risk_sets import risk_sets

GOOD: dict[str, Any] = {"patterns": 2, "pattern": [0, 1, 1], "day": [0, 5, 9], "event": [1, 0, 1], "joints": [2, 3, 4]}


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"pattern": [0, 1, 2]}, "pattern numbers go to 2, but there are only 2 patterns"),
        ({"day": [0, 5]}, "must be of one length"),
        ({"day": [0, -5, 9]}, "days are below 0"),
        ({"day": [0, 5.5, 9]}, "days are not whole numbers"),
        ({"event": [1, 0, 2]}, "An event is 1 or 0, but one is 2"),
        ({"joints": np.ma.MaskedArray([2, 3, 4], [0, 1, 0])}, "of the counts are missing"),
        ({"stratum": [0]}, "Each of the 2 covariate patterns needs a stratum, but 1 have one"),
        (
            {"entered": Entries([0], [1], [1])},
            "In pattern 0 more joints enter on day 1 or later than leave after that day",
        ),
        ({"entered": Entries([1], [9], [1])}, "In pattern 1 more joints enter on day 9 or later"),
        ({"entered": Entries([1, 1], [4, 7], [3, 5])}, "In pattern 1 more joints enter on day 7 or later"),
        ({"entered": Entries([2], [1], [1])}, "pattern numbers go to 2"),
        ({"entered": Entries([1], [1, 2], [1])}, "columns of entries must be of one length"),
    ],
)
def test_counts_that_contradict_each_other_are_refused(wrong: dict[str, Any], message: str) -> None:
    with pytest.raises(CountError, match=message):
        PatternCounts(**{**GOOD, **wrong})


def test_numbers_of_any_type_are_read() -> None:
    given = {name: np.array(values, dtype=np.uint16) for name, values in GOOD.items() if name != "patterns"}
    counts = PatternCounts(2, **{**given, "event": np.array([True, False, True])})
    assert (counts.events, counts.by_pattern().tolist(), counts.events_by_pattern().tolist()) == (6, [2, 7], [2, 4])
    assert {counts.pattern.dtype, counts.day.dtype, counts.event.dtype} == {np.dtype(np.int64)}


def test_rows_without_counts_count_once() -> None:
    counts = PatternCounts(2, [0, 1, 1], [0, 5, 9], [1, 0, 1])
    assert (counts.events, counts.weights.tolist()) == (2, [1, 1, 1])


def test_at_risk_are_those_who_entered_before_the_day_and_leave_on_it_or_later() -> None:
    # Two joints from before day 0 and one that enters on day 3: it is there from day 4.
    counts = PatternCounts(1, [0] * 3, [2, 5, 5], [1, 1, 0], entered=Entries([0], [3], [1]))
    assert counts.followed().at([0, 2, 3, 4, 5, 6]).tolist() == [2, 2, 1, 2, 2, 0]
    sets = risk_sets(counts)
    assert sets.cells.day.tolist() == [2, 5]
    assert sets.at_risk.in_cells(np.ones(1)).tolist() == [2, 2]
    days, at_risk, events, left = counts.by_day()
    assert (days.tolist(), at_risk.tolist(), events.tolist(), left.tolist()) == (
        [2, 3, 5],
        [2, 1, 2],
        [1, 0, 1],
        [1, 0, 2],
    )


def test_strata_keep_their_numbers_and_their_own_risk_sets() -> None:
    counts = PatternCounts(3, [0, 1, 2, 2], [4, 4, 4, 9], [1, 0, 1, 0], stratum=[70, 70, 12])
    assert counts.followed(12).at([4, 5]).tolist() == [2, 1]
    sets = risk_sets(counts)
    assert sets.cells.stratum.tolist() == [0, 1]  # 12, then 70
    assert sets.at_risk.in_cells(np.ones(3)).tolist() == [2, 2]


def test_an_event_table_s_groups_are_patterns() -> None:
    table = EventTable(
        (("a",), ("b",)),
        ("censored", "died", "wear", "infection"),
        [0, 0, 1, 1],
        [3, 5, 5, 9],
        [2, 0, 3, 1],
        [1, 4, 2, 7],
        Entries([1], [1], [3]),
    )
    every, one = pattern_counts(table), pattern_counts(table, outcomes=[3])
    assert every.event.tolist() == [1, 0, 1, 0]
    assert one.event.tolist() == [0, 0, 1, 0]
    assert every.followed().at([1, 2]).tolist() == [11, 14]


@pytest.mark.parametrize("fits", [True, False])
def test_cells_found_by_table_and_by_sorting_are_the_same(fits: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("regdash.stats.event_cells._fits", lambda size, rows: fits)
    stratum, day = np.array([1, 0, 1, 1, 0]), np.array([7, 0, 7, 3, 4])
    cells, cell = event_cells(stratum, day, np.array([1, 2, 3, 4, 5]), 3)
    assert list(zip(cells.stratum.tolist(), cells.day.tolist(), cells.events.tolist(), strict=True)) == [
        (0, 0, 2),
        (0, 4, 5),
        (1, 3, 4),
        (1, 7, 4),
    ]
    assert cell.tolist() == [3, 0, 3, 2, 1]
    places = cells.places_of(np.array([0, 0, 1, 1, 1, 2]), np.array([3, 900, 2, 3, 8, 5]))
    assert places.tolist() == [1, 2, 3, 4, 5, 6]
