"""All steps of a screen in their order, on counts alone: rates, hazards, chance, labels."""

from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np

from regdash.signals.chance import Drawn, drawn_ratios, q_values
from regdash.signals.hazards import pool_hazards
from regdash.signals.labels import label
from regdash.signals.model import LOOK_CLOSER, TOO_FEW
from regdash.signals.pool import Pool, Window
from regdash.signals.rates import UnitRates, pool_rates
from regdash.signals.settings import ScreenSettings
from regdash.stats.risk_shares import ScreenedRatio
from regdash.store.cuts import threads


@dataclass(frozen=True, eq=False)
class Finding:
    """One unit in one window. What is not defined is None."""

    code: str
    role: str
    joint_class: str
    window: Window
    joints: int
    years: float
    revised: int
    others_revised: int
    expected: float | None  # at the rate of all others
    per_100_years: float | None
    rate_ratio: float | None
    rate_p: float | None
    hazard: ScreenedRatio | None  # None: not tested
    drawn: Drawn | None
    q: float | None = None
    signal: str = TOO_FEW


@dataclass(frozen=True, eq=False)
class Screened:
    """Everything that one screen found."""

    findings: tuple[Finding, ...]
    tests: int
    expected_false: float  # of the signals, at most
    not_tested: int  # units

    @property
    def signals(self) -> tuple[Finding, ...]:
        """Those that somebody should look at."""
        return tuple(one for one in self.findings if one.signal == LOOK_CLOSER)


def screen(pools: Sequence[Pool], settings: ScreenSettings, windows: Sequence[Window], level: float) -> Screened:
    """
    Screen all units of all pools, in all windows, as one run.

    A unit with enough joints is told of in the window that is all of follow-up, tested or not; in others where it is
    tested. Smaller ones are counted.

    Args:
        pools: each compares its units among themselves.
        windows: the first is all of follow-up.
        level: of all limits.
    """
    with ThreadPoolExecutor(threads()) as workers:  # arithmetic on long arrays leaves the interpreter's lock
        counted = list(workers.map(lambda pool: _counted(pool, windows, settings, level), pools))
    runs = [run for found in counted for run in found]
    drawn = drawn_ratios([run.hazards for run in runs], settings.stated_ratio)
    p = [one.p_higher for run in runs for one in run.hazards if one is not None]
    q = iter(q_values(p, settings.correction).tolist())
    both = zip(runs, drawn, strict=True)
    findings = [one for run, shrunk in both for one in run.findings(shrunk, q, settings, level)]
    signals = sum(one.signal == LOOK_CLOSER for one in findings)
    units = sum(len(pool.codes) for pool in pools)
    seen = {(one.joint_class, one.role, one.code) for one in findings if one.hazard is not None}
    return Screened(_striking_first(findings), len(p), settings.q * signals, units - len(seen))


@dataclass(frozen=True, eq=False)
class _Run:
    """One pool in one window."""

    pool: Pool
    window: Window
    rates: UnitRates
    hazards: list[ScreenedRatio | None]

    def findings(
        self, drawn: list[Drawn | None], tested_q: Iterator[float], settings: ScreenSettings, level: float
    ) -> Iterator[Finding]:
        """Label each unit, the q of those tested coming in their order; who is too small is left out."""
        rates, pool, window = self.rates, self.pool, self.window
        columns = zip(
            pool.codes,
            *(each.tolist() for each in (rates.joints, rates.years, rates.revised, rates.other_revised)),
            *map(_defined, (rates.expected, rates.per_100_years, rates.ratio, rates.p_above(settings.stated_ratio))),
            self.hazards,
            drawn,
            strict=True,
        )
        least = settings.minimum_joints
        for code, joints, years, revised, others, expected, rate, ratio, rate_p, hazard, shrunk in columns:
            if joints < least or (hazard is None and not window.whole):
                continue
            q = None if hazard is None else next(tested_q)
            yield Finding(
                code=code,
                role=pool.role,
                joint_class=pool.joint_class,
                window=window,
                joints=joints,
                years=years,
                revised=revised,
                others_revised=others,
                expected=expected,
                per_100_years=rate,
                rate_ratio=ratio,
                rate_p=rate_p,
                hazard=hazard,
                drawn=shrunk,
                q=q,
                signal=label(settings, hazard, q, level),
            )


def _counted(pool: Pool, windows: Sequence[Window], settings: ScreenSettings, level: float) -> list[_Run]:
    """Rates and hazards of one pool."""
    rates = pool_rates(pool, windows)
    hazards = pool_hazards(pool, windows, large_enough(rates, settings), settings.stated_ratio, level)
    return [_Run(pool, *each) for each in zip(windows, rates, hazards, strict=True)]


def large_enough(rates: Sequence[UnitRates], settings: ScreenSettings) -> np.ndarray:
    """(windows, units) bool: tested, having enough joints and enough revisions expected."""
    enough = [
        (one.joints >= settings.minimum_joints) & (np.nan_to_num(one.expected) >= settings.minimum_expected)
        for one in rates
    ]
    return np.array(enough)


def _defined(values: np.ndarray) -> list[float | None]:
    return [None if value != value else value for value in values.tolist()]


def _striking_first(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Units by their smallest p, each with all its windows together; who is not tested comes last."""
    least: dict[tuple[str, str, str], float] = {}
    keys = [(one.joint_class, one.code, one.role) for one in findings]
    for key, one in zip(keys, findings, strict=True):
        p = 2.0 if one.hazard is None else one.hazard.p_higher
        least[key] = min(least.get(key, 2.0), p)
    order = [(least[key], key, one.window.start, place) for place, (key, one) in enumerate(zip(keys, findings))]
    return tuple(findings[place] for _, _, _, place in sorted(order))
