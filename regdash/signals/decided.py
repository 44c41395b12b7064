"""The decisions of a period as moves of reviews: what moved from where to where, and when. Nobody is named."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from regdash.store.signal_reviews import NEW, Reviews, SignalReview

MEASURE = "decisions of a period"
METHOD = (
    "Decisions on signals taken in the period (days in UTC), oldest first, each with the state that stood before it. "
    "Who took them and why stands in the list of decisions."
)
UNITS = "A decision is about an implant, a construct, a size or a lot; it finds nothing about a hospital or a surgeon."


@dataclass(frozen=True)
class Move:
    """One decision: a review moved on."""

    date: str  # UTC
    kind: str  # implants, constructs, sizes or lots
    joint: str
    joint_class: str
    role: str
    code: str | None  # None where units are not to be told
    window: str  # years since implantation, or every
    before: str  # the state that stood
    after: str


def moves(reviews: Reviews, first: date, last: date, with_codes: bool = True) -> tuple[Move, ...]:
    """
    List the moves of a period.

    Args:
        reviews: every decision up to the end of the period, or later ones too; those before it say what stood.
        first, last: the days of the period, both of them included.
        with_codes: whether units are told.
    """
    return tuple(
        _move(one, before, with_codes)
        for one, before in _with_before(reviews)
        if first.isoformat() <= one.decided_at[:10] <= last.isoformat()
    )


def _with_before(reviews: Reviews) -> Iterator[tuple[SignalReview, str]]:
    states = {one.number: one.state for one in reviews}
    for one in reviews:
        yield one, NEW if one.supersedes is None else states[one.supersedes]


def _move(one: SignalReview, before: str, with_codes: bool) -> Move:
    unit = one.unit
    code = unit.code if with_codes else None
    at = one.decided_at[:10]
    return Move(at, unit.kind, unit.joint, unit.joint_class, unit.role, code, one.window, before, one.state)
