"""Requests of a period: counts and days against a count in plain Python, and a case worked by hand."""

import random
import statistics
from datetime import date, timedelta

from regdash.reports.requests_served import ALL, served
from regdash.store.requests import KINDS, Request, RequestLine

FIRST, LAST = date(2024, 7, 1), date(2024, 9, 30)


def line(number: int, act: str, day: date, kind: str, due: date | None = None) -> RequestLine:
    told = (day.isoformat(), due.isoformat() if due else None, "", "", "x", "x", "2024-01-01T00:00:00Z")
    return RequestLine(number, number, act, kind, "", "said", *told)


def request(kind: str, came: date, due: date | None = None, **acts: date) -> Request:
    return Request((line(1, "received", came, kind, due), *(line(1, act, day, kind) for act, day in acts.items())))


def test_a_quarter_worked_by_hand():
    """Four answers in the quarter, after 3, 10, 20 and 90 days: the half do not exceed 10, nine tenths not 90."""
    july = date(2024, 7, 1)
    asked = [
        request("maker", july, answered=july + timedelta(days=3)),
        request("maker", july, answered=july + timedelta(days=10)),
        request("maker", july, answered=july + timedelta(days=20)),
        request("maker", date(2024, 5, 1), answered=date(2024, 7, 30)),  # came before the quarter
        request("maker", date(2024, 6, 1), answered=date(2024, 6, 2)),  # all before it
        request("maker", date(2024, 9, 1), due=date(2024, 9, 29), answered=date(2024, 10, 1)),  # overdue at its end
        request("maker", date(2024, 9, 1), due=date(2024, 9, 30)),  # the last day is still in time
        request("maker", date(2024, 10, 1)),  # after it
        request("press", july, closed=july + timedelta(days=1)),
        request("press", july, answered=july, closed=july + timedelta(days=1)),
        request("patient", july, mistaken=july),
    ]
    maker, press, every = served(asked, FIRST, LAST)
    assert (maker.kind, maker.received, maker.answered, maker.closed_unanswered) == ("maker", 5, 4, 0)
    assert (maker.median_days, maker.ninetieth_days, maker.longest_days) == (10, 90, 90)
    assert (maker.open, maker.overdue) == (2, 1)
    assert (press.kind, press.received, press.answered, press.closed_unanswered, press.open) == ("press", 2, 1, 1, 0)
    assert (press.median_days, press.ninetieth_days) == (0, 0)
    assert (every.kind, every.received, every.answered, every.open, every.overdue) == (ALL, 7, 5, 2, 1)


def test_nothing_answered_has_no_days():
    (every,) = served([], FIRST, LAST)
    assert (every.received, every.answered, every.median_days, every.ninetieth_days) == (0, 0, None, None)


def test_drawn_requests_are_counted_as_in_plain_python():
    """The median is Python's `statistics.median_low`: the lower of the two middle days, one that occurred."""
    draw = random.Random(7)
    for _ in range(40):
        asked = []
        for _ in range(draw.randrange(1, 30)):
            came = date(2024, 4, 1) + timedelta(days=draw.randrange(200))
            acts = {
                act: came + timedelta(days=draw.randrange(60)) for act in ("answered", "closed") if draw.random() < 0.5
            }
            due = came + timedelta(days=20) if draw.random() < 0.5 else None
            asked.append(request(draw.choice(KINDS), came, due, **acts))
        rows = served(asked, FIRST, LAST)
        every = rows[-1]
        answers = [(one.lines[1], one.received) for one in asked if one.lines[1:] and one.lines[1].act == "answered"]
        answered = [(date.fromisoformat(line.day), came) for line, came in answers]
        days = [(day - came).days for day, came in answered if FIRST <= day <= LAST]
        assert every.answered == len(days)
        assert every.median_days == (statistics.median_low(days) if days else None)
        assert every.longest_days == (max(days) if days else None)
        for name in ("received", "answered", "closed_unanswered", "open", "overdue"):
            assert sum(getattr(row, name) for row in rows[:-1]) == getattr(every, name)
        never = [one for one in asked if len(one.lines) == 1 and one.received <= LAST]
        assert every.open >= len(never)
        assert every.received == sum(FIRST <= one.received <= LAST for one in asked)
