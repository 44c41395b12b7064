"""The answer of a replay: when was each unit first a signal, how long after its first use, and was it seen again?"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import numpy as np

from regdash.cohort import Cohort
from regdash.errors import FilterError
from regdash.grouping import Grouping
from regdash.reports import wording as reported
from regdash.reports.counted import count, head
from regdash.reports.model import IMPLANT_VIEW
from regdash.reports.policy import Policy
from regdash.signals import wording
from regdash.signals.history_model import NOT_TESTED, NOT_USED, SIGNAL, HistoryReport, HistoryRow
from regdash.signals.joints import joints_of, pools_of
from regdash.signals.known_then import NEVER, KnownThen, days_since_1970, quarter_of
from regdash.signals.model import CONSTRUCTS, KINDS, ReviewsUsed
from regdash.signals.pool import Pool, windows_of
from regdash.signals.replay import METHOD_VERSION, PoolBrief, Progress, Replay, states_of
from regdash.signals.settings import ScreenSettings
from regdash.signals.units import CONSTRUCT, Units, units_of
from regdash.stats.years import years_in
from regdash.store.cuts import Cut
from regdash.store.histories import read_history, write_history
from regdash.store.signal_reviews import Reviews
from regdash.store.sqlfiles import statement
from regdash.suggest import nearest

MEASURE = "screen of {kind}, quarter by quarter"
_APART_BY = ("joint", "class")


@dataclass(frozen=True)
class Replayable:
    """A screen whose history is asked for."""

    policy: Policy
    settings: ScreenSettings
    kind: str
    cohort: Cohort
    adjust: tuple[Grouping, ...]
    windows: tuple[float, ...]
    reviews: Reviews  # all of them: a quarter is screened with what was decided by then

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise FilterError(f"There is no screen of {self.kind}. {nearest(self.kind, KINDS)}")

    @property
    def strata(self) -> tuple[Grouping, ...]:
        """The fields that are held alike; a screen runs inside joints and classes anyway."""
        unused = (*_APART_BY, CONSTRUCT) if self.kind == CONSTRUCTS else _APART_BY
        return tuple(grouping for grouping in self.adjust if grouping.field.key not in unused)

    def confirmed_on(self, day: str) -> tuple[str, ...]:
        """What reviews had confirmed by the end of a day, in UTC."""
        return ReviewsUsed(Reviews(one for one in self.reviews if one.decided_at[:10] <= day)).confirmed(self.kind)

    @property
    def confirmed(self) -> list[tuple[str, tuple[str, ...]]]:
        """What was confirmed from which day on."""
        found: list[tuple[str, tuple[str, ...]]] = []
        for day in sorted({one.decided_at[:10] for one in self.reviews}):
            now = self.confirmed_on(day)
            if now != (found[-1][1] if found else ()):
                found.append((day, now))
        return found

    def key(self, cut: Cut) -> dict[str, Any]:
        """What a replay depends on; the same under the same key."""
        return {
            "content_hash": cut.manifest.content_hash,
            "hash_format": cut.manifest.hash_format,
            "known_as_of": cut.manifest.known_as_of,
            "settings": self.settings.hash,
            "kind": self.kind,
            "cohort": str(self.cohort),
            "adjust": [str(grouping) for grouping in self.strata],
            "windows": list(self.windows),
            "confirmed": self.confirmed,
            "method": METHOD_VERSION,
        }


def history_report(
    cut: Cut, asked: Replayable, by: Sequence[Grouping] = (), progress: Progress | None = None, again: bool = False
) -> HistoryReport:
    """
    Answer: in which quarter was each unit first a signal, and was it seen again?

    Args:
        by: the joint, where the cohort holds several.
        progress: told the quarters done and how many there are; what it raises ends the replay.
        again: make it although it is remembered.

    Raises:
        FilterError: an outcome word in the cohort.
        Cancelled: from another thread.
    """
    key = asked.key(cut)
    found = None if again else read_history(cut.store, key)
    remembered = found is not None
    if found is None:
        found = _made(cut, asked, progress)
        write_history(cut.store, key, found)
    return _written(cut, asked, by, found, remembered)


def remembered_history(cut: Cut, asked: Replayable, by: Sequence[Grouping] = ()) -> HistoryReport | None:
    """Give the answer of `history_report` where it was made before, at once; None where it was not."""
    found = read_history(cut.store, asked.key(cut))
    return None if found is None else _written(cut, asked, by, found, True)


def replay_of(cut: Cut, asked: Replayable) -> Replay:
    """Fetch what a replay needs, and make it ready."""
    joints = joints_of(cut, asked.cohort, asked.strata)
    units = units_of(cut, asked.kind, (joints.joint_no, joints.construct))
    pools = [replace(pool, joint_no=joints.place[pool.joint_no]) for pool in pools_of(joints, units, ())]
    apart = _Apart.of(cut, asked, units, pools)
    question = cut.question
    stopped: Callable[[], bool] = (lambda: question.cancelled) if question else lambda: False
    known = KnownThen(cut, joints, asked.kind)
    return Replay(known, pools, apart.on, asked.settings, windows_of(asked.windows), stopped)


def _made(cut: Cut, asked: Replayable, progress: Progress | None) -> dict[str, Any]:
    """Replay; what comes back is plain, to be written down."""
    replay = replay_of(cut, asked)
    known, pools = replay.known, replay.pools
    days = known.quarter_ends(
        *(date.fromisoformat(day) for day in (cut.manifest.through_date, cut.manifest.known_as_of))
    )
    found = replay.briefs(days, progress)
    rows = [row for n, pool in enumerate(pools) for row in _rows(pool, [one[n] for one in found], replay)]
    return {
        "quarters": [day.isoformat() for day in days],
        "tests": [sum(pool.tests for pool in one) for one in found],
        "rows": rows,
        "never_tested": sum(len(pool.codes) for pool in pools) - len(rows),
        "corrected_joints": int(known.corrected.sum()),
        "touched_revisions": len(known.touched_revisions),
    }


def _rows(pool: Pool, found: Sequence[PoolBrief], replay: Replay) -> Iterator[list[Any]]:
    """Write each unit that was ever tested."""
    first_used = np.full(len(pool.codes), NEVER, dtype=np.int64)
    np.minimum.at(first_used, pool.unit, replay.known.implanted[pool.joint_no])
    for unit, states in enumerate(states_of(found)):
        if set(states) <= {NOT_USED, NOT_TESTED}:
            continue
        seen = states.find(SIGNAL)
        then: list[Any] = [None, None, None]
        if seen >= 0:
            one = found[seen]
            then = [replay.windows[one.window[unit]].label, int(one.joints[unit]), int(one.revised[unit])]
        used = date(1970, 1, 1) + timedelta(days=int(first_used[unit]))
        yield [pool.codes[unit], pool.role, pool.joint_class, used.isoformat(), states, *then]


def _corrected(policy: Policy, joints: int, revisions: int) -> list[str]:
    """Say how many records could not be replayed as they first came, where there are any."""
    if not joints and not revisions:
        return []
    return [wording.replayed_from_corrections(policy.said(joints), policy.said(revisions))]


@dataclass(frozen=True, eq=False)
class _Apart:
    """Which units are in nobody's comparison group, day by day."""

    pools: Sequence[Pool]
    withdrawn: Sequence[np.ndarray]  # for each pool, (units,) day from which it is
    names: Sequence[Sequence[frozenset[str]]]  # what each unit is called by, or made of
    asked: Replayable

    @classmethod
    def of(cls, cut: Cut, asked: Replayable, units: Units, pools: Sequence[Pool]) -> "_Apart":
        gone: dict[str, int] = {}
        if asked.settings.leave_out_withdrawn:
            gone = dict(cut.rows(statement("queries/replayed_withdrawals")))
        made_of = dict(zip(units.codes, units.implants, strict=True))
        names = [[frozenset((*made_of[code], code)) for code in pool.codes] for pool in pools]
        withdrawn = [np.array([min(gone.get(name, NEVER) for name in unit) for unit in pool]) for pool in names]
        return cls(pools, withdrawn, names, asked)

    def on(self, day: date) -> list[np.ndarray]:
        """Tell, for each pool."""
        today = days_since_1970(day)
        confirmed = {*self.asked.settings.confirmed, *self.asked.confirmed_on(day.isoformat())}
        found = [from_day <= today for from_day in self.withdrawn]
        if confirmed:
            for apart, names in zip(found, self.names, strict=True):
                apart |= np.array([not confirmed.isdisjoint(unit) for unit in names], dtype=bool)
        return found


def _written(
    cut: Cut, asked: Replayable, by: Sequence[Grouping], found: dict[str, Any], remembered: bool
) -> HistoryReport:
    """Write what was found, as far as the policy shows it."""
    policy, settings = asked.policy, asked.settings
    days = [date.fromisoformat(day) for day in found["quarters"]]
    rows = sorted((_row(policy, days, row) for row in found["rows"]), key=_striking_first)
    seen = np.array([[state == SIGNAL for state in row.states] for row in rows], dtype=int).reshape(
        len(rows), len(days)
    )
    counted = count(cut, asked.cohort, by)
    strata = reported.fields([grouping.field.key for grouping in asked.strata])
    method = wording.REPLAYED.format(
        windows=wording.windows(asked.windows),
        strata=wording.strata(strata),
        stated=settings.stated_ratio,
        q=settings.q,
        correction=wording.CORRECTED[settings.correction],
    )
    cautions = [
        wording.SIGNAL_STARTS_A_REVIEW,
        *_corrected(policy, found["corrected_joints"], found["touched_revisions"]),
        wording.KNOWN_TODAY,
        wording.SCREENED_AGAIN,
    ]
    crude = reported.adjusted_only_for(strata)
    more = [] if len(counted.groups) > 1 else [crude]
    measure = MEASURE.format(kind=asked.kind)
    return HistoryReport(
        head=head(counted, policy, measure, method, [*cautions, *more], view=IMPLANT_VIEW, not_by_chance=crude),
        kind=asked.kind,
        settings=settings,
        adjust=asked.strata,
        windows=asked.windows,
        method_version=METHOD_VERSION,
        quarters=tuple(quarter_of(day) for day in days),
        tests=tuple(found["tests"]),
        signals=tuple(seen.sum(axis=0).tolist()),
        rows=tuple(rows),
        never_tested=found["never_tested"],
        remembered=remembered,
    )


def _row(policy: Policy, days: Sequence[date], row: Sequence[Any]) -> HistoryRow:
    code, role, joint_class, used, states, window, joints, revised = row
    first, first_used = states.find(SIGNAL), date.fromisoformat(used)
    if first < 0:
        return HistoryRow(code, role, joint_class, first_used, states, None, None, None, None, None)
    years = years_in((days[first] - first_used).days)
    small = policy.why_small(joints, revised)
    joints, revised = (None, None) if small else (joints, revised)
    seen = quarter_of(days[first])
    return HistoryRow(code, role, joint_class, first_used, states, seen, window, years, joints, revised, small)


def _striking_first(row: HistoryRow) -> tuple[Any, ...]:
    """Signals of the last quarter, then those seen before, then the rest; each in the order of the first signal."""
    first = row.states.find(SIGNAL)
    group = 2 if first < 0 else 0 if row.states[-1] == SIGNAL else 1
    return group, first, row.joint_class, row.code, row.role
