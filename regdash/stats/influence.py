"""How far a single joint moves a risk: by its own event, and by having been at risk. Clusters add this up."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np

from regdash.errors import CountError
from regdash.stats.aalen_johansen import CumulativeIncidence
from regdash.stats.kaplan_meier import NetRisk


@dataclass(frozen=True, eq=False)
class Followed:
    """From when to when joints were followed, and how that ended."""

    day: np.ndarray  # (r,) int64, last day of follow-up
    cause: np.ndarray  # (r,) int64, 0 where it ended without an event, else 1 + the number of the cause
    entered: np.ndarray  # (r,) int64, day at the end of which it began; -1: before day 0


@dataclass(frozen=True, eq=False)
class Moves:
    """Where joints enter or leave, and what is added to their state then: influence is m (F G - D) + a - F b."""

    place: np.ndarray  # (r,) int64, days with an event up to then
    m: np.ndarray  # (r,) 1 where a joint enters, -1 where it leaves
    a: np.ndarray  # (r,)
    b: np.ndarray  # (r,)


@dataclass(frozen=True, eq=False)
class Influence:
    """
    The derivative of a risk F by the weight of one joint, at any time.

    On a day t_j with d events among n joints, h of them by the cause, and S free just before, a joint at risk
    changes F(t) by  -S h / n² + (F(t) - F(t_j)) d / (n (n - d));  its own event adds S / n if it is by the cause,
    and takes off (F(t) - F(t_j)) / (n - d).

    Source:
        Infinitesimal jackknife; Andersen, Borgan, Gill & Keiding (1993), section IV.4. Where all joints enter on one
        day, the squares of independent joints add up to the delta method's variance.
    """

    days: np.ndarray  # (k,) int64, days with an event of any cause
    risk: np.ndarray  # (k + 1,) F before the first of them, and by the end of each
    at_risk: np.ndarray  # (k,) int64, n
    events: np.ndarray  # (k, causes) int64, by cause
    free_before: np.ndarray  # (k,) S
    cause: int | None  # number of the cause whose risk this is; None: all of them

    @cached_property
    def own(self) -> np.ndarray:
        """(k,) S / n."""
        return self.free_before / self.at_risk

    @cached_property
    def loss(self) -> np.ndarray:
        """(k,) 1 / (n - d); 0 where everybody has an event, for F never moves again."""
        rest = self.at_risk - self.events.sum(axis=1)
        return np.where(rest > 0, 1 / np.maximum(rest, 1), 0)

    @cached_property
    def growth(self) -> np.ndarray:
        """(k + 1,) G, running sum of d / (n (n - d))."""
        return _running(self._growing)

    @cached_property
    def held(self) -> np.ndarray:
        """(k + 1,) D, running sum of S h / n² + F d / (n (n - d))."""
        hit = self.events.sum(axis=1) if self.cause is None else self.events[:, self.cause]
        return _running(self.own * hit / self.at_risk + self.risk[1:] * self._growing)

    @property
    def _growing(self) -> np.ndarray:
        return self.events.sum(axis=1) / self.at_risk * self.loss

    def entering(self, joints: Followed) -> Moves:
        """What each joint adds where its follow-up begins."""
        place = np.searchsorted(self.days, joints.entered, side="right")
        return Moves(place, np.ones(len(place)), self.held[place], self.growth[place])

    def leaving(self, joints: Followed) -> Moves:
        """
        What each joint adds where its follow-up ends.

        Raises:
            CountError: an event on a day, or by a cause, that the risk was not estimated from.
        """
        place = np.searchsorted(self.days, joints.day, side="right")
        a, b = -self.held[place], -self.growth[place]
        hit = np.flatnonzero(joints.cause)
        on, cause = place[hit] - 1, joints.cause[hit] - 1
        self._refuse_unknown(joints.day[hit], on, cause)
        by_cause = np.ones(len(hit)) if self.cause is None else cause == self.cause
        a[hit] += self.own[on] * by_cause + self.risk[on + 1] * self.loss[on]
        b[hit] += self.loss[on]
        return Moves(place, -np.ones(len(place)), a, b)

    def at(self, joints: Followed, days: Sequence[int] | np.ndarray) -> np.ndarray:
        """(r, g) influence of each joint on the risk by the end of each of these days."""
        asked = np.searchsorted(self.days, np.asarray(days), side="right")
        still, total = self.risk[asked] * self.growth[asked] - self.held[asked], 0.0
        for moves in (self.entering(joints), self.leaving(joints)):
            state = moves.m[:, None] * still + moves.a[:, None] - moves.b[:, None] * self.risk[asked]
            total = total + state * (moves.place[:, None] <= asked)
        return np.asarray(total)

    def by(self, days: Sequence[int] | np.ndarray) -> Callable[[Followed], np.ndarray]:
        """Give `at` for these days, as a function of the joints."""
        return partial(self.at, days=days)

    def _refuse_unknown(self, day: np.ndarray, on: np.ndarray, cause: np.ndarray) -> None:
        known = (on >= 0) & (cause < self.events.shape[1])
        known[known] &= self.days[on[known]] == day[known]
        known[known] &= self.events[on[known], cause[known]] > 0
        if not known.all():
            first = int(np.flatnonzero(~known)[0])
            raise CountError(
                f"{int(np.sum(~known)):,} joints have an event that the counts do not hold "
                f"(first: day {day[first]}, cause {cause[first] + 1}). Count and list the same joints."
            )


def net_influence(net: NetRisk) -> Influence:
    """Give the influence of joints on a net risk; a revision is cause 1."""
    risk = np.insert(net.risk, 0, 0)
    return Influence(net.days, risk, net.at_risk, net.revised[:, None], 1 - risk[:-1], None)


def incidence_influence(found: CumulativeIncidence, cause: int) -> Influence:
    """Give the influence of joints on the incidence of one cause; causes count from 0."""
    risk = np.insert(found.incidence[:, cause], 0, 0)
    return Influence(found.days, risk, found.at_risk, found.events, np.insert(found.free, 0, 1)[:-1], cause)


def _running(values: np.ndarray) -> np.ndarray:
    return np.insert(np.cumsum(values), 0, 0)
