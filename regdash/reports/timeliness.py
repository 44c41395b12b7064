"""How long records take to arrive: the distribution of delays."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby
from typing import Any

import numpy as np

from regdash.reports import records_wording as wording
from regdash.reports.policy import Policy
from regdash.reports.records import Asked, RecordsHead, checked, head, labelled, refuse_many
from regdash.stats.delays import order_statistic, share_within
from regdash.store.cuts import Cut
from regdash.store.sqlfiles import statement

WITHIN = (30, 60, 90)  # days


@dataclass(frozen=True)
class DelayRow:
    """One group: days from operation to first receipt."""

    group: str
    operations: int | None  # received, and old enough to be judged
    median_days: int | None
    ninetieth_days: int | None  # 90th centile
    within_30: float | None  # share received within so many days
    within_60: float | None
    within_90: float | None
    too_recent: int | None  # operations left out because their delay cannot yet be known
    withheld: str | None = None


@dataclass(frozen=True)
class DelaysReport:
    """Delays by group."""

    head: RecordsHead
    rows: tuple[DelayRow, ...]


def delays_report(cut: Cut, policy: Policy, asked: Asked) -> DelaysReport:
    """
    Answer: how many days pass from an operation to its record?

    Raises:
        FilterError: a word that does not choose records, or more groups than anybody can read.
    """
    predicate = checked(asked.cohort).predicate()
    query = statement("queries/record_delays", grouping=asked.grouping, predicate=predicate.sql)
    settled_by = date.fromisoformat(cut.manifest.known_as_of) - timedelta(days=WITHIN[-1])
    found = cut.rows(query, **predicate.parameters, kind=asked.kind, settled_by=settled_by)
    groups = grouped_rows(found, asked)
    rows = tuple(_delay_row(policy, labelled(group), rows) for group, rows in groups)
    cautions = (wording.recent_left_out(WITHIN[-1]), wording.STILL_TO_COME)
    return DelaysReport(head(cut, policy, asked, "reporting delay", wording.DELAYS, cautions), rows)


def grouped_rows(found: list[tuple[Any, ...]], asked: Asked) -> list[tuple[tuple[str, ...], list[tuple[Any, ...]]]]:
    """Split rows by their leading columns, groups in order and the rest of each row sorted within."""
    keys = len(asked.by)
    found.sort(key=lambda row: (asked.place(row[:keys]), row[keys:]))
    groups = [(group, [row[keys:] for row in rows]) for group, rows in groupby(found, lambda row: row[:keys])]
    refuse_many(len(groups), asked)
    return groups


def _delay_row(policy: Policy, group: str, rows: Iterable[tuple[int, bool, int]]) -> DelayRow:
    cells = list(rows)
    settled = np.array([(delay, count) for delay, is_settled, count in cells if is_settled], dtype=np.int64)
    days, counts = settled.reshape(-1, 2).T
    total, recent = int(counts.sum()), sum(count for _, is_settled, count in cells if not is_settled)
    within = [share_within(days, counts, most) for most in WITHIN]
    numbers = [round((share or 0) * total) for share in within]
    why = policy.why_small(total, *numbers, *(total - number for number in numbers))
    if why or not total:
        return DelayRow(group, policy.count(total), *(None,) * 5, policy.count(recent), why or wording.ALL_RECENT)
    median, ninetieth = order_statistic(days, counts, 1, 2), order_statistic(days, counts, 9, 10)
    month, two_months, three_months = within
    return DelayRow(group, total, median, ninetieth, month, two_months, three_months, policy.count(recent))
