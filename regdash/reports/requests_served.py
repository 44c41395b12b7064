"""How many requests the office got and answered in a period, and how long that took."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from regdash.stats.delays import order_statistic
from regdash.store.requests import ANSWERED, CLOSED, KINDS, OPEN, OVERDUE, Request

ALL = "all"
MEASURE = "requests served and time taken"
METHOD = (
    "Received, answered and closed: requests whose day falls into the period, answered by the first answer alone, "
    "closed where there was none. Open and overdue: at the end of its last day. Days run from receipt to the first "
    "answer, of requests answered in the period; median and 90th centile are days that really occurred (the smallest "
    "that at least half, or nine tenths, do not exceed)."
)


@dataclass(frozen=True)
class ServedRow:
    """Requests of one kind, or of all."""

    kind: str
    received: int
    answered: int
    median_days: int | None  # None where none was answered
    ninetieth_days: int | None
    longest_days: int | None
    closed_unanswered: int
    open: int  # overdue ones among them
    overdue: int


def served(requests: Sequence[Request], first: date, last: date) -> tuple[ServedRow, ...]:
    """
    Count the requests of a period by kind, those of all kinds last; kinds of which there was nothing are left out.

    Args:
        requests: of the whole register; those entered by mistake do not count.
        first, last: the days between which something counts, both of them included.
    """
    counted = [one for one in requests if not one.is_mistaken and one.received <= last]
    rows = [_row(kind, [one for one in counted if one.kind == kind], first, last) for kind in KINDS]
    return (*(row for row in rows if _is_any(row)), _row(ALL, counted, first, last))


def _is_any(row: ServedRow) -> bool:
    return any((row.received, row.answered, row.closed_unanswered, row.open))


def _row(kind: str, requests: Sequence[Request], first: date, last: date) -> ServedRow:
    def within(day: date | None) -> bool:
        return day is not None and first <= day <= last

    taken = sorted(one.days for one in requests if within(one.day_of(ANSWERED)) and one.days is not None)
    days, counts = np.unique(np.array(taken, dtype=np.int64), return_counts=True)
    states = [one.state(last) for one in requests]
    return ServedRow(
        kind=kind,
        received=sum(within(one.received) for one in requests),
        answered=len(taken),
        median_days=order_statistic(days, counts, 1, 2),
        ninetieth_days=order_statistic(days, counts, 9, 10),
        longest_days=taken[-1] if taken else None,
        closed_unanswered=sum(within(one.day_of(CLOSED)) and not _answered_by(one, last) for one in requests),
        open=sum(state in (OPEN, OVERDUE) for state in states),
        overdue=states.count(OVERDUE),
    )


def _answered_by(request: Request, last: date) -> bool:
    answered = request.day_of(ANSWERED)
    return answered is not None and answered <= last
