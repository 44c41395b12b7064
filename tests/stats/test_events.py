"""The event table keeps every joint, whatever form and order the counts come in."""

from dataclasses import FrozenInstanceError

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from regdash.errors import CountError
from regdash.stats.events import Entries, EventTable

GROUPS = (("total",), ("partial",))
OUTCOMES = ("censored", "died", "loosening", "infection")

cells = st.lists(st.tuples(st.integers(0, 1), st.integers(0, 6), st.integers(0, 3), st.integers(0, 5)), max_size=40)


def table_of(rows: list[tuple[int, int, int, int]], dtype: str = "int64") -> EventTable:
    return EventTable(GROUPS, OUTCOMES, *np.array(rows, dtype=dtype).reshape(-1, 4).T)


@given(cells)
def test_cells_are_sorted_merged_and_never_empty(rows: list[tuple[int, int, int, int]]) -> None:
    table = table_of(rows)
    keys = list(zip(table.group.tolist(), table.day.tolist(), table.outcome.tolist(), strict=True))
    expected: dict[tuple[int, int, int], int] = {}
    for *key, joints in rows:
        expected[tuple(key)] = expected.get(tuple(key), 0) + joints
    assert keys == sorted(key for key, joints in expected.items() if joints)
    assert table.joints.tolist() == [expected[key] for key in keys]


@given(cells)
def test_a_groups_dense_counts_hold_every_joint_of_that_group_and_no_other(
    rows: list[tuple[int, int, int, int]],
) -> None:
    table = table_of(rows)
    for group in (0, 1):
        counts = table.of(group)
        assert np.all(np.diff(counts.days) > 0)
        assert counts.left.tolist() == counts.by_outcome.sum(axis=1).tolist()
        assert np.all(counts.left > 0)
        for day, left in zip(counts.days, counts.by_outcome, strict=True):
            for outcome in range(4):
                assert left[outcome] == sum(row[3] for row in rows if row[:3] == (group, day, outcome))
        assert counts.joints == sum(row[3] for row in rows if row[0] == group)
        assert counts.implant_days == sum(row[1] * row[3] for row in rows if row[0] == group)
        assert counts.revised.sum() == sum(row[3] for row in rows if row[0] == group and row[2] >= 2)
        assert counts.competing.sum() == sum(row[3] for row in rows if row[0] == group and row[2] >= 1)


@pytest.mark.parametrize("dtype", ["int8", "uint8", "int16", "uint32", "int64", "uint64", "float64"])
def test_columns_of_any_numeric_type_give_the_same_table(dtype: str) -> None:
    rows = [(1, 120, 2, 3), (0, 5, 0, 100), (0, 5, 0, 27), (1, 0, 3, 1)]
    found, expected = table_of(rows, dtype), table_of(rows)
    for name in ("group", "day", "outcome", "joints"):
        assert getattr(found, name).dtype == np.int64
        assert getattr(found, name).tolist() == getattr(expected, name).tolist()


def test_small_codes_do_not_overflow_when_they_are_many() -> None:
    """255 groups × 20,000 days do not fit the types a database gives codes in."""
    groups = tuple((str(number),) for number in range(255))
    table = EventTable(groups, OUTCOMES, np.array([254, 3], "uint8"), np.array([20_000, 1], "int16"), [3, 1], [1, 2])
    assert table.of(254).days.tolist() == [20_000]
    assert table.of(3).by_outcome.tolist() == [[0, 2, 0, 0]]


def test_a_column_without_nulls_may_come_masked() -> None:
    days = np.ma.MaskedArray([3, 4], [False, False])
    assert EventTable(GROUPS, OUTCOMES, [0, 0], days, [0, 1], [1, 1]).day.tolist() == [3, 4]


def test_nothing_given_is_changed_and_nothing_held_can_be() -> None:
    day = np.array([9, 3])
    table = EventTable(GROUPS, OUTCOMES, [0, 0], day, [0, 1], [1, 1])
    assert day.tolist() == [9, 3]
    assert day.flags.writeable
    with pytest.raises(ValueError, match="read-only"):
        table.day[0] = 1
    with pytest.raises(FrozenInstanceError):
        table.day = day  # type: ignore[misc]


def test_a_sorted_table_does_not_share_its_arrays_with_the_giver() -> None:
    day = np.array([3, 9])
    table = EventTable(GROUPS, OUTCOMES, [0, 0], day, [0, 1], [1, 1])
    day[0] = 8
    assert table.day.tolist() == [3, 9]


def test_a_group_without_joints_has_empty_counts() -> None:
    counts = table_of([(0, 5, 0, 1)]).of(1)
    assert (len(counts.days), counts.joints, counts.implant_days) == (0, 0, 0)
    assert counts.by_outcome.shape == (0, 4)


@pytest.mark.parametrize("group", [-1, 2])
def test_a_group_the_table_does_not_have_is_not_an_empty_one(group: int) -> None:
    with pytest.raises(IndexError):
        table_of([(0, 5, 0, 1)]).of(group)


def test_joints_that_enter_late_are_at_risk_from_the_next_day_until_they_leave() -> None:
    entries = Entries(np.array([0, 0]), np.array([365, 2]), np.array([3, 1]))
    table = EventTable(GROUPS, OUTCOMES, [0, 0], [400, 500], [2, 0], [1, 3], entries)
    counts = table.of(0)
    assert counts.days.tolist() == [2, 365, 400, 500]
    assert counts.left.tolist() == [0, 0, 1, 3]
    assert counts.at_risk.tolist() == [0, 1, 4, 3]
    assert counts.implant_days == 400 + 3 * 500 - 2 - 3 * 365
    assert table.of(1).entered.tolist() == []


@pytest.mark.parametrize(
    ("columns", "says"),
    [
        (([0], [1, 2], [0, 0], [1, 1]), "one length"),
        (([0, 2], [1, 2], [0, 0], [1, 1]), "group numbers go to 2, but only 0 to 1"),
        (([0, 0], [1, 2], [0, 4], [1, 1]), "outcome numbers go to 4, but only 0 to 3"),
        (([0, 0], [1, 2], [0, 0], [1, -1]), r"1 of 2 values of the counts are below 0 \(first: -1\)"),
        (([0, 0], [1, -5], [0, 0], [1, 1]), r"days are below 0 \(first: -5\)"),
        (([0, 0], [1, 2.5], [0, 0], [1, 1]), r"days are not whole numbers \(first: 2.5\)"),
        (([0, 0], [1, float("nan")], [0, 0], [1, 1]), "not whole numbers"),
        ((["a", "b"], [1, 2], [0, 0], [1, 1]), "group numbers must be whole numbers"),
        (([0, 0], np.ma.MaskedArray([1, 2], [True, False]), [0, 0], [1, 1]), "1 of 2 values of the days are missing"),
        (([[0, 0]], [1, 2], [0, 0], [1, 1]), "2 dimensions"),
    ],
)
def test_columns_that_cannot_be_counts_are_refused_with_the_value(columns: tuple, says: str) -> None:
    with pytest.raises(CountError, match=says):
        EventTable(GROUPS, OUTCOMES, *columns)


def test_death_may_share_its_outcome_with_revisions_that_are_not_the_event() -> None:
    outcomes = ("censored", "died or otherwise revised", "loosening")
    table = EventTable(GROUPS[:1], outcomes, [0, 0], [5, 9], [1, 2], [3, 4])
    counts = table.of(0)
    assert (counts.revised.tolist(), counts.competing.tolist()) == ([0, 4], [[3, 0], [0, 4]])


def test_outcomes_begin_with_censored_and_died() -> None:
    with pytest.raises(CountError, match="'censored' and 'died'"):
        EventTable(GROUPS, ("died", "censored", "loosening"), [0], [1], [0], [1])
