"""All steps of a screen in their order, on counts alone: rates, hazards, chance, labels."""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from regdash.signals.chance import Drawn, drawn_ratios, q_values
from regdash.signals.hazards import unit_hazards
from regdash.signals.labels import label
from regdash.signals.model import LOOK_CLOSER, TOO_FEW
from regdash.signals.pool import Pool, Window
from regdash.signals.rates import unit_rates
from regdash.signals.settings import ScreenSettings
from regdash.stats.screened import ScreenedRatio
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
    runs = [(pool, window, settings, level) for pool in pools for window in windows]
    with ThreadPoolExecutor(threads()) as workers:  # arithmetic on long arrays leaves the interpreter's lock
        raw = [one for found in workers.map(lambda run: _stepped(*run), runs) for one in found]
    tested = [place for place, one in enumerate(raw) if one.hazard is not None]
    q = q_values([one.hazard.p_higher for one in raw if one.hazard is not None], settings.correction).tolist()
    of = dict(zip(tested, q, strict=True))
    labelled = tuple(_labelled(one, of.get(place), settings, level) for place, one in enumerate(raw))
    signals = sum(one.signal == LOOK_CLOSER for one in labelled)
    units = sum(len(pool.codes) for pool in pools)
    seen = {(one.joint_class, one.role, one.code) for one in raw if one.hazard is not None}
    return Screened(_striking_first(labelled), len(tested), settings.q * signals, units - len(seen))


def _stepped(pool: Pool, window: Window, settings: ScreenSettings, level: float) -> list[Finding]:
    """Rates, hazards and what all say about each, of one pool in one window."""
    rates = unit_rates(pool, window)
    expected, rate_p = rates.expected, rates.p_above(settings.stated_ratio)
    tested = (rates.joints >= settings.minimum_joints) & (np.nan_to_num(expected) >= settings.minimum_expected)
    hazards = unit_hazards(pool, window, tested, settings.stated_ratio, level)
    drawn = drawn_ratios(hazards, settings.stated_ratio)
    columns = zip(
        *(each.tolist() for each in (rates.joints, rates.years, rates.revised, rates.other_revised)),
        *map(_defined, (expected, rates.per_100_years, rates.ratio, rate_p)),
        hazards,
        drawn,
        strict=True,
    )
    told = zip(pool.codes, columns, strict=True)
    return [
        Finding(code, pool.role, pool.joint_class, window, *figures)
        for code, figures in told
        if figures[0] >= settings.minimum_joints and (window.whole or figures[8] is not None)
    ]


def _defined(values: np.ndarray) -> list[float | None]:
    return [None if value != value else value for value in values.tolist()]


def _labelled(one: Finding, q: float | None, settings: ScreenSettings, level: float) -> Finding:
    return replace(one, q=q, signal=label(settings, one.hazard, q, level))


def _striking_first(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Units by their smallest p, each with all its windows together; who is not tested comes last."""
    least: dict[tuple[str, str, str], float] = {}
    for one in findings:
        key, p = _unit(one), 2.0 if one.hazard is None else one.hazard.p_higher
        least[key] = min(least.get(key, 2.0), p)
    return tuple(
        sorted(findings, key=lambda one: (least[_unit(one)], _unit(one), not one.window.whole, one.window.start))
    )


def _unit(one: Finding) -> tuple[str, str, str]:
    return one.joint_class, one.code, one.role
