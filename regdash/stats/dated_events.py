"""Events and expected events of one unit as they come along the calendar: what sequential methods watch."""

from dataclasses import dataclass

import numpy as np

from regdash.errors import CountError
from regdash.stats.counts import amounts, whole_numbers
from regdash.stats.reference_hazard import ReferenceHazard


@dataclass(frozen=True, eq=False)
class DatedEvents:
    """
    What was seen and expected, by date. Rows may come in any order and any number for one date.

    Expected events are those since the date before; of one date they come first, then its events one by one.
    Dates are whole days since any fixed date. Events go by the date on which they happened, not by that of
    the operation that they follow; follow-up from old operations counts.

    Raises:
        CountError: unequal lengths, or a negative or broken number.
    """

    dates: np.ndarray  # (m,) int64, rising
    expected: np.ndarray  # (m,) float64
    events: np.ndarray  # (m,) int64

    def __post_init__(self) -> None:
        dates, events = whole_numbers("dates", self.dates), whole_numbers("events", self.events)
        expected = amounts("expected events", self.expected)
        lengths = {len(dates), len(events), len(expected)}
        if len(lengths) > 1:
            raise CountError(f"Dates, expected events and events must be of one length, but are of {sorted(lengths)}.")
        own, row = np.unique(dates, return_inverse=True)
        object.__setattr__(self, "dates", own)
        object.__setattr__(self, "expected", np.bincount(row, expected, len(own)))
        object.__setattr__(self, "events", np.bincount(row, events, len(own)).astype(np.int64))


def dated_events(
    reference: ReferenceHazard,
    dates: np.ndarray,
    implanted: np.ndarray,
    day: np.ndarray,
    event: np.ndarray,
    joints: np.ndarray | None = None,
    stratum: np.ndarray | None = None,
    relative: np.ndarray | None = None,
) -> DatedEvents:
    """
    Find what was seen and expected of one unit between dates, from its joints' own strata and follow-up.

    The finer the dates, the nearer to watching day by day; those on which events happened should be among them,
    since events within a span of dates come after all that is expected in it. Events that the reference knows no
    hazard for (of a stratum it does not have, or later than anybody of it was followed) are left out.

    Args:
        dates: (m,) int, rising; what falls after the last is left out, what falls before the first is in it.
        implanted: (r,) int, date of implantation.
        day: (r,) int, whole days since implantation on which follow-up ended.
        event: (r,) int, 1 where it ended in the event.
        joints: (r,) int, how many; left out: 1 each.
        stratum: (r,) int, of the reference; left out: 0.
        relative: (r,) hazards relative to the reference's; left out: 1 each.

    Raises:
        CountError: dates that do not rise, arrays of unequal length, or a negative or broken number.

    Source:
        Expected events in calendar time as in Biswas & Kalbfleisch (2008), Stat Med 27:3382-3406.
    """
    edges, start, last = (
        whole_numbers(name, values)
        for name, values in (("dates", dates), ("dates of implantation", implanted), ("days", day))
    )
    if not len(edges) or np.any(np.diff(edges) <= 0):
        raise CountError("Dates to watch at must rise, and there must be one at least.")
    many = np.ones(len(last), dtype=np.int64) if joints is None else whole_numbers("counts", joints)
    strata = np.zeros(len(last), dtype=np.int64) if stratum is None else whole_numbers("strata", stratum)
    weight = many * (np.ones(len(last)) if relative is None else amounts("relative hazards", relative))
    hit = whole_numbers("events", event)
    lengths = {len(start), len(last), len(hit), len(many), len(strata), len(weight)}
    if len(lengths) > 1:
        raise CountError(f"Columns of joints must be of one length, but are of {sorted(lengths)}.")
    if np.any(hit > 1):
        raise CountError(f"An event is 1 or 0, but one is {int(hit.max())}. Count joints in `joints`.")
    passed = [weight @ reference.expected(strata, np.clip(date - start, -1, last)) for date in edges]
    known = last <= reference.last_day(strata)
    events = np.bincount(np.searchsorted(edges, start + last, side="left"), many * hit * known, len(edges) + 1)[:-1]
    return DatedEvents(edges, np.maximum(np.diff(passed, prepend=0), 0), events)
