"""The same screen at the end of each past quarter with what was known then; units and strata are those of the cut."""

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from datetime import date
from typing import TypeVar

import numpy as np

from regdash.errors import Cancelled
from regdash.signals.chance import q_values
from regdash.signals.hazards import pool_p
from regdash.signals.history_model import STATES
from regdash.signals.known_then import KnownThen
from regdash.signals.pool import Pool, Window
from regdash.signals.rates import pool_rates
from regdash.signals.screen import large_enough
from regdash.signals.settings import ScreenSettings
from regdash.store.cuts import threads

# Which method made a replay. Raise it with every change of what a replay finds: those remembered are then made again.
METHOD_VERSION = 2

Progress = Callable[[int, int], None]  # quarters done, and of how many
Kept = TypeVar("Kept")
Apart = Callable[[date], Sequence[np.ndarray]]  # for each pool, (units,) bool: in nobody's comparison group that day


@dataclass(frozen=True, eq=False)
class PoolThen:
    """What one quarter's screen found in one pool; (windows, units) but for the last."""

    joints: np.ndarray
    revised: np.ndarray
    p: np.ndarray  # NaN where not tested
    q: np.ndarray
    used: np.ndarray  # (units,) bool: some joint has it

    def brief(self, q: float) -> "PoolBrief":
        """Keep what a history tells of it; a window and unit with q up to this is a signal."""
        tested = np.logical_not(np.isnan(self.p))
        signal = np.any(self.q <= q, axis=0)
        state = np.where(signal, 3, np.where(tested.any(axis=0), 2, np.where(self.used, 1, 0)))
        window = np.argmin(np.where(tested, self.p, np.inf), axis=0)
        revised = self.revised[window, np.arange(len(window))]
        kept = (state, np.uint8), (window, np.uint8), (self.joints[0], np.int32), (revised, np.int32)
        return PoolBrief(int(tested.sum()), *(values.astype(kind) for values, kind in kept))


@dataclass(frozen=True, eq=False)
class PoolBrief:
    """The same in few bytes, since there are many quarters and units; (units,) each."""

    tests: int
    state: np.ndarray  # place in STATES
    window: np.ndarray  # the one with the smallest p
    joints: np.ndarray  # in all of follow-up
    revised: np.ndarray  # in that window


class Replay:
    """
    A screen made ready to be made again as of any day.

    Args:
        pools: of all joints of the cut, each with its places among them as `joint_no`.
        apart: which units are in nobody's comparison group on a day.
        windows: as `windows_of` makes them.
        stopped: whether somebody cancelled, asked between pools.
    """

    def __init__(
        self,
        known: KnownThen,
        pools: Sequence[Pool],
        apart: Apart,
        settings: ScreenSettings,
        windows: Sequence[Window],
        stopped: Callable[[], bool] = lambda: False,
    ) -> None:
        self.known, self.pools, self.apart = known, pools, apart
        self.settings, self.windows, self.stopped = settings, windows, stopped
        self._given_up = False

    def quarters(self, days: Sequence[date], progress: Progress | None = None) -> list[list[PoolThen]]:
        """
        Screen as of each day, with two quarters or more under way at a time.

        Returns:
            For each day one a pool.

        Raises:
            Cancelled: somebody cancelled, or `progress` raised it.
        """
        return self._each(days, progress, lambda one: one)

    def briefs(self, days: Sequence[date], progress: Progress | None = None) -> list[list[PoolBrief]]:
        """The same, of which only what a history tells is kept."""
        return self._each(days, progress, lambda one: one.brief(self.settings.q))

    def _each(
        self, days: Sequence[date], progress: Progress | None, keep: Callable[[PoolThen], Kept]
    ) -> list[list[Kept]]:
        found: list[list[Kept]] = []

        def take() -> None:
            found.append([keep(one) for one in under_way.popleft().result()])
            if progress:
                progress(len(found), len(days))

        with ThreadPoolExecutor(threads()) as workers:
            under_way: deque[Future[list[PoolThen]]] = deque()
            try:
                for day, then in zip(days, self.known.on(days), strict=True):
                    under_way.append(workers.submit(self.screened, day, then))
                    if len(under_way) > threads():
                        take()
                while under_way:
                    take()
            except BaseException:
                self._given_up = True
                raise
        return found

    def screened(self, day: date, then: np.ndarray) -> list[PoolThen]:
        """
        Screen as of one day, given what was known then as `KnownThen.on` tells it.

        Raises:
            Cancelled: somebody cancelled.
        """
        settings, counted = self.settings, []
        for whole, apart in zip(self.pools, self.apart(day), strict=True):
            if self._given_up or self.stopped():
                raise Cancelled("The replay was cancelled.")
            pool = _then(whole, then, apart)
            rates = pool_rates(pool, self.windows)
            p = pool_p(pool, self.windows, large_enough(rates, settings), settings.stated_ratio)
            joints, revised = (np.array([getattr(one, name) for one in rates]) for name in ("joints", "revised"))
            counted.append((joints, revised, p))
        tested = [np.logical_not(np.isnan(p)) for _, _, p in counted]
        all_p = np.concatenate([p[which] for (_, _, p), which in zip(counted, tested, strict=True)] or [np.zeros(0)])
        q, first, found = q_values(all_p, settings.correction), 0, []
        for (joints, revised, p), which in zip(counted, tested, strict=True):
            own = np.full(p.shape, np.nan)
            own[which] = q[first : first + np.count_nonzero(which)]
            first += int(np.count_nonzero(which))
            found.append(PoolThen(joints, revised, p, own, joints[0] > 0))
        return found


def _then(pool: Pool, then: np.ndarray, apart: np.ndarray) -> Pool:
    """Make the pool of those who were known."""
    told = then[pool.joint_no]
    there = told >= 0
    told = told[there]
    return Pool(
        joint_class=pool.joint_class,
        role=pool.role,
        codes=pool.codes,
        apart=apart,
        joint_no=pool.joint_no[there],
        unit=pool.unit[there],
        day=told >> 1,
        revised=(told & 1) > 0,
        stratum=pool.stratum[there],
    )


def states_of(found: Sequence[PoolBrief]) -> Iterator[str]:
    """Write each unit's states, one character of STATES a quarter, given one pool's quarters."""
    if not found:
        return
    letters = np.frombuffer(STATES.encode(), dtype=np.uint8)[np.array([one.state for one in found])]
    for unit in range(letters.shape[1]):
        yield letters[:, unit].tobytes().decode()
