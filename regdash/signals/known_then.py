"""What was known at the end of any past day: joints, revisions, deaths and losses, and how far feeds were complete."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from regdash.signals.joints import ScreenedJoints
from regdash.signals.model import LOTS
from regdash.store.cuts import Cut
from regdash.store.sqlfiles import statement

NEVER = np.iinfo(np.int32).max
NOT_THERE = -1
_FIRST = date(1970, 1, 1)


@dataclass(frozen=True, eq=False)
class KnownLater:
    """Dated facts of joints, in the order in which they became known."""

    place: np.ndarray  # (e,) place of the joint
    day: np.ndarray  # (e,) when it happened, since 1970
    known: np.ndarray  # (e,) from when it was known, rising
    until: np.ndarray | None = None  # (e,) from when it was so no longer; NEVER while it is; None: all are

    @classmethod
    def of(cls, joints: ScreenedJoints, found: dict[str, np.ndarray]) -> "KnownLater":
        """Keep what is of these joints."""
        joint_no = found["joint_no"]
        rows = np.flatnonzero(joint_no < len(joints.place))
        rows = rows[joints.place[joint_no[rows]] >= 0]
        rows = rows[np.argsort(found["known"][rows], kind="stable")]
        until = np.ma.filled(found["until"], NEVER)[rows] if "until" in found else None
        return cls(joints.place[joint_no[rows]], found["day"][rows], found["known"][rows], until)

    def earliest(self, joints: int, days: Sequence[int]) -> Iterator[np.ndarray]:
        """Give, for each of some rising days, (joints,) the earliest that was known then; NEVER where there is none."""
        until = np.full(len(self.day), NEVER) if self.until is None else self.until
        lasting, passing = np.flatnonzero(until == NEVER), np.flatnonzero(until < NEVER)
        found, told = np.full(joints, NEVER, dtype=np.int32), 0
        for today in days:
            end = int(np.searchsorted(self.known[lasting], today, side="right"))
            new = lasting[told:end]
            np.minimum.at(found, self.place[new], self.day[new])
            told = end
            now = passing[(self.known[passing] <= today) & (today < until[passing])]
            if not len(now):
                yield found
                continue
            then = found.copy()
            np.minimum.at(then, self.place[now], self.day[now])
            yield then


class KnownThen:
    """The joints of a screen as they were known, day after day."""

    def __init__(self, cut: Cut, joints: ScreenedJoints, kind: str) -> None:
        own = cut.columns(statement("queries/replayed_joints"), lots=kind == LOTS)
        revisions = cut.columns(statement("queries/replayed_revisions"))
        order = np.empty(len(own["joint_no"]), dtype=np.int32)
        order[own["joint_no"]] = np.arange(len(order), dtype=np.int32)
        rows = order[joints.joint_no]
        self.implanted, self.known, self.hospital = (own[name][rows] for name in ("implanted", "known", "hospital"))
        self.corrected = own["corrected"][rows].astype(bool)
        self.revisions = KnownLater.of(joints, revisions)
        self.ends = KnownLater.of(joints, cut.columns(statement("queries/replayed_ends")))
        self._limits = cut.columns(statement("queries/replayed_limits"))
        self._hospitals = int(self.hospital.max(initial=-1)) + 1
        touched = revisions["corrected"].astype(bool) | revisions["decided"].astype(bool)
        self.touched_revisions = KnownLater.of(joints, {name: each[touched] for name, each in revisions.items()}).place

    def quarter_ends(self, through: date, known_as_of: date) -> list[date]:
        """List the ends of quarters from the first with a known joint up to the cut's through-date."""
        if not len(self.known):
            return []
        first = _FIRST + timedelta(days=int(self.known.min()))
        last = min(through, known_as_of)
        found = (quarter_end(year, n) for year in range(first.year, last.year + 1) for n in range(1, 5))
        return [day for day in found if first <= day <= last]

    def on(self, days: Sequence[date]) -> Iterator[np.ndarray]:
        """
        Tell what was known at the end of each of some rising days, and happened by then.

        Yields:
            (n,) int32 for each day: twice the days of follow-up, and 1 more where it ended in a revision;
            NOT_THERE for a joint that was not known, or not followed yet.
        """
        numbers = [days_since_1970(day) for day in days]
        facts = (each.earliest(len(self.known), numbers) for each in (self.revisions, self.ends))
        for today, revised, gone in zip(numbers, *facts, strict=True):
            limit = self._limit_on(today)[self.hospital]
            end = np.minimum(gone, limit)
            hit = revised <= end
            followed = np.minimum(end, revised)
            followed -= self.implanted
            there = (self.known <= today) & (self.implanted <= limit)
            followed *= 2
            followed += hit
            followed[np.logical_not(there)] = NOT_THERE
            yield followed

    def _limit_on(self, today: int) -> np.ndarray:
        """(hospitals,) the day up to which follow-up is complete; a day before all others where nothing is."""
        came = self._limits["received"] <= today
        hospital, complete = self._limits["hospital"][came], self._limits["complete_through"][came]
        limit = np.full(self._hospitals, np.iinfo(np.int32).min, dtype=np.int32)
        own = (hospital >= 0) & (hospital < self._hospitals)
        np.maximum.at(limit, hospital[own], complete[own])
        deaths = complete[hospital < 0]
        most = min(today, int(deaths.max())) if len(deaths) else today
        return np.minimum(limit, np.int32(most))


def quarter_end(year: int, number: int) -> date:
    """
    Give the last day of a quarter.

    >>> [quarter_end(2024, number).isoformat() for number in (1, 4)]
    ['2024-03-31', '2024-12-31']
    """
    return date(year + number // 4, number % 4 * 3 + 1, 1) - timedelta(days=1)


def quarter_of(day: date) -> str:
    """
    Name the quarter of a day.

    >>> quarter_of(date(2024, 9, 30))
    '2024Q3'
    """
    return f"{day.year}Q{(day.month + 2) // 3}"


def days_since_1970(day: date) -> int:
    """Number a day as the database's dates are numbered here."""
    return (day - _FIRST).days
