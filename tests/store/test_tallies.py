"""Tallies of rows against the standard library's Counter, for keys of every width and rows in any order."""

from collections import Counter

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from regdash.store import tallies
from regdash.store.tallies import Tally, tally

WIDTHS = (1, 1_000, 2**40)  # a table of all keys, a key that is sorted, and rows that no key holds
TYPES = (np.int64, np.int16, np.uint8)


def counted(found: Tally) -> Counter[tuple[int, ...]]:
    columns = [column[found.group].tolist() for column in found.groups] + [column.tolist() for column in found.cells]
    rows = list(zip(*columns, strict=True))
    assert rows == sorted(set(rows))
    return Counter(dict(zip(rows, found.counts.tolist(), strict=True)))


@given(
    rows=st.lists(st.tuples(st.integers(-2, 3), st.integers(0, 3), st.integers(0, 5), st.integers(1, 9)), min_size=1),
    width=st.sampled_from(WIDTHS),
    fields=st.integers(0, 2),
    cut=st.integers(0, 20),
    weighted=st.booleans(),
)
def test_every_combination_is_counted(
    rows: list[tuple[int, ...]], width: int, fields: int, cut: int, weighted: bool
) -> None:
    *columns, times = (np.array(column, dtype=np.int64) for column in zip(*rows, strict=True))
    columns[0], columns[1] = columns[0] * width, columns[1] * width
    expected: Counter[tuple[int, ...]] = Counter()
    for *row, often in zip(*(column.tolist() for column in columns), times.tolist(), strict=True):
        expected[tuple(row)] += often if weighted else 1
    parts = [[column[:cut] for column in columns], [column[cut:] for column in columns]]
    assert counted(tally(parts, fields, times if weighted else None)) == expected


@pytest.mark.parametrize("spare", [0, 1 << 18])
@pytest.mark.parametrize("kind", TYPES)
def test_narrow_types_are_counted_as_wide_ones(kind: type, spare: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tallies, "SPARE_ROOM", spare)
    random = np.random.default_rng(5)
    columns = [random.integers(0, 120, 400).astype(kind) for _ in range(3)]
    expected = Counter(zip(*(column.tolist() for column in columns), strict=True))
    assert counted(tally([columns], 1)) == expected


def test_a_group_is_told_by_all_its_fields() -> None:
    found = tally([[np.array([1, 1, 2, 2]), np.array([0, 1, 0, 0]), np.array([5, 5, 5, 6])]], 2)
    assert [column.tolist() for column in found.groups] == [[1, 1, 2], [0, 1, 0]]
    assert found.group.tolist() == [0, 1, 2, 2]


def test_no_rows_make_no_groups() -> None:
    nothing = np.zeros(0, dtype=np.int64)
    found = tally([[nothing, nothing], [nothing, nothing]], 1)
    assert (len(found.groups[0]), len(found.group), len(found.cells[0]), len(found.counts)) == (0, 0, 0, 0)
