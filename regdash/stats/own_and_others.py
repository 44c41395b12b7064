"""Two bodies of joints that are compared: those with an implant, and all others that may be compared with them."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from regdash.errors import CountError
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.risk_shares import ScreenedRatio
from regdash.stats.screened import screened_hazard_ratios
from regdash.stats.screened_outside import outside_hazard_ratios

NO_CAUSE = 0
_DENSE = 2**23  # strata × days that are held as one table at most


@dataclass(frozen=True, eq=False)
class OwnAndOthers:
    """
    Joints, one entry each, followed from day 0 to an event of one cause or to censoring.

    Raises:
        CountError: columns of different lengths, or a negative stratum, day or cause.
    """

    own: np.ndarray  # (n,) bool, with the implant; all others are without
    stratum: np.ndarray  # (n,) int, alike in age band, sex and so on
    day: np.ndarray  # (n,) int, whole days of follow-up
    cause: np.ndarray  # (n,) int, NO_CAUSE where censored, else from 1 up

    def __post_init__(self) -> None:
        columns = (self.own, self.stratum, self.day, self.cause)
        if len({len(column) for column in columns}) > 1:
            raise CountError("Each joint needs a side, a stratum, a day and a cause.")
        if any(column.min(initial=0) < 0 for column in columns[1:]):
            raise CountError("Strata, days and causes are 0 or more.")

    def __len__(self) -> int:
        return len(self.day)

    def only(self, which: np.ndarray) -> "OwnAndOthers":
        """Keep some joints: (n,) bool, or their places."""
        return OwnAndOthers(self.own[which], self.stratum[which], self.day[which], self.cause[which])

    def within(self, level: np.ndarray) -> "OwnAndOthers":
        """Make strata finer: joints are alike only where they have the same level, (n,) int, too."""
        pair = np.unique(self.stratum * (int(level.max(initial=0)) + 1) + level, return_inverse=True)[1]
        return OwnAndOthers(self.own, pair.reshape(-1), self.day, self.cause)

    @cached_property
    def shared(self) -> np.ndarray:
        """(n,) bool: joints of strata that hold both sides; no other joint says anything about their ratio."""
        size = int(self.stratum.max(initial=0)) + 1
        mine = np.bincount(self.stratum[self.own], minlength=size) > 0
        theirs = np.bincount(self.stratum[~self.own], minlength=size) > 0
        return np.asarray((mine & theirs)[self.stratum])

    @property
    def events(self) -> int:
        """Events of the implant's own joints."""
        return int(np.count_nonzero(self.cause[self.own]))

    def ratio(self, level: float = 0.95, stated: float = 1.0) -> ScreenedRatio | None:
        """
        Estimate the stratified hazard ratio of its own joints to all others, as `screened_hazard_ratios`.

        None where no stratum holds both, or nobody of such a stratum has the event.

        >>> them = OwnAndOthers(*map(np.array, ([True, True, False, False], [0] * 4, [1, 9, 1, 9], [1, 0, 1, 0])))
        >>> round(them.ratio().ratio.ratio, 6)
        1.0
        """
        some = self if self.shared.all() else self.only(self.shared)
        if not np.any(some.cause):
            return None
        labels, stratum = _dense(some.stratum)
        pattern = np.where(some.own, 0, labels) + stratum
        strata = np.concatenate([np.arange(labels), np.arange(labels)])
        unit = np.repeat([0, 1], labels)
        counts = PatternCounts(2 * labels, pattern, some.day, (some.cause > 0).astype(np.int64), None, strata)
        return screened_hazard_ratios(counts, unit, ("own", "others"), level=level, stated=stated)[0]

    def ratios_by(
        self, part: np.ndarray, names: Sequence[str], level: float = 0.95, alike: bool = True
    ) -> tuple[ScreenedRatio | None, ...]:
        """
        Estimate the hazard ratio of each part of its own joints.

        Args:
            part: (n,) int, which part each joint is of; -1 for none.
            names: of the parts.
            alike: each part is compared with the others of the same part alone; else with all others.

        Returns:
            One a part, as `ratio`.
        """
        if alike:
            chosen = [self.only(part == number) for number in range(len(names))]
            return tuple(one.ratio(level) if len(one) else None for one in chosen)
        own = np.flatnonzero(self.own & (part >= 0))
        mine = np.bincount(self.stratum[own], minlength=int(self.stratum.max(initial=0)) + 1) > 0
        others = np.flatnonzero(~self.own & mine[self.stratum])
        if not len(own) or not np.any(self.cause[others]):
            return (None,) * len(names)
        labels, stratum = _dense(np.concatenate([self.stratum[own], self.stratum[others]]))
        if labels * (int(self.day.max()) + 2) > _DENSE:
            whole = [self.only(~self.own | (part == number)) for number in range(len(names))]
            return tuple(one.ratio(level) for one in whole)
        of_own, of_others = stratum[: len(own)], stratum[len(own) :]
        place = np.arange(labels)
        body = PatternCounts(labels, of_others, self.day[others], self._event(others), None, place)
        pattern = part[own] * labels + of_own
        strata, unit = np.tile(place, len(names)), np.repeat(np.arange(len(names)), labels)
        mine_too = PatternCounts(len(unit), pattern, self.day[own], self._event(own), None, strata)
        return outside_hazard_ratios(body, mine_too, unit, tuple(names), level=level)

    def _event(self, rows: np.ndarray) -> np.ndarray:
        return (self.cause[rows] > 0).astype(np.int64)


def _dense(stratum: np.ndarray) -> tuple[int, np.ndarray]:
    """How many strata there are, and (n,) their numbers without gaps."""
    seen = np.bincount(stratum) > 0
    return int(np.count_nonzero(seen)), (np.cumsum(seen) - 1)[stratum]
