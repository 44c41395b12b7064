"""
What a screen does at its thresholds: synthetic registers with implants of known ratios, screened quarter by quarter.

The registers are the generator's, with its hazards, surgeons, hospitals, patients and reporting; the screens are the
program's own replay, so that a change of the program changes what is found here.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from screened_registers import ScreenedRegister

from regdash.signals.chance import q_values
from regdash.signals.known_then import NEVER, KnownLater, KnownThen, days_since_1970, quarter_end
from regdash.signals.pool import Pool, windows_of
from regdash.signals.replay import PoolThen, Replay
from regdash.signals.settings import CORRECTIONS, ScreenSettings, read_settings
from synthetic_registry.knee import KNEE
from synthetic_registry.lives import REVISED
from synthetic_registry.parameters import Parameters, PlantedImplant
from synthetic_registry.revisions import draw_revisions
from synthetic_registry.sending import NOT_SENT, make_schedule, quarter_ends, submissions_of
from synthetic_registry.simulation import simulate_several

RATIOS = (1.0, 1.25, 1.5, 2.0, 2.5)
THROUGH = date(2018, 12, 31)
FROM_YEAR = 2009  # when planted implants are introduced; they are used to the end
FEED_LAG = 45  # days from a quarter's end until deaths and losses of it are known


@dataclass(frozen=True)
class Design:
    """Registers of one size, and how often each planted implant is used in ten years; ratios go round among them."""

    joints: int  # knees, all classes together
    uses: tuple[int, ...]
    registers: int


DESIGNS = (
    Design(80_000, (100, 300, 1000, 100, 300, 1000), 60),
    Design(200_000, (3000, 10_000, 3000), 60),
)


@dataclass(frozen=True)
class Thresholds:
    """One set of thresholds, beside those that are shipped."""

    name: str
    stated_ratio: float
    q: float
    correction: str

    @property
    def settings(self) -> ScreenSettings:
        """The program's settings with these."""
        return replace(read_settings(), stated_ratio=self.stated_ratio, q=self.q, correction=self.correction)


def threshold_sets() -> tuple[Thresholds, ...]:
    """Give the shipped set first, then those that a committee might choose instead."""
    shipped = read_settings()
    found = [Thresholds("shipped", shipped.stated_ratio, shipped.q, shipped.correction)]
    for stated in (1.0, 1.25, 1.5):
        for q, correction in ((0.05, CORRECTIONS[0]), (0.1, CORRECTIONS[0]), (0.05, CORRECTIONS[1])):
            one = Thresholds("", stated, q, correction)
            if (stated, q, correction) != (found[0].stated_ratio, found[0].q, found[0].correction):
                found.append(one)
    return tuple(found)


@dataclass(frozen=True)
class Planted:
    """One planted implant and what each threshold set made of it."""

    uses: int  # as planned
    ratio: float  # as planned
    true_ratio: float  # of its joints' hazards to those of all others
    joints: int
    first_use: float  # years from the register's first day
    signals: tuple[float | None, ...]  # for each set, years from first use to the first quarter that calls it out
    quarters: tuple[int | None, ...]  # the same in screens, that one included


@dataclass(frozen=True)
class Studied:
    """One register: its planted implants, and of each set at the last quarter, signals and those of them not true."""

    planted: tuple[Planted, ...]
    signals: tuple[int, ...]
    false: tuple[int, ...]


class GeneratedThen(KnownThen):
    """What was known of a synthetic register's joints day after day: by when hospitals and feeds would have sent."""

    def __init__(self, register: ScreenedRegister) -> None:
        (own,) = register.several.registers
        days, count = register.several.days, len(own.days)
        first, reporting = days_since_1970(days.start), own.setting.parameters.reporting
        rng, schedule = own.setting.stream("reports of the study"), make_schedule(register.several)
        joints = own.joints
        day, patient = joints.primaries.day[:count].astype(np.int64), joints.primaries.patient[:count]

        def received(hospital: np.ndarray, when: np.ndarray, kind: str) -> np.ndarray:
            lag = reporting.lag[kind] * np.exp(reporting.lag_sd * rng.standard_normal(len(when)))
            late = np.minimum(lag, reporting.longest_lag).astype(np.int64)
            sent = submissions_of(schedule, hospital, when, late)
            return np.where(sent == NOT_SENT, NEVER, schedule.received[sent] + first).astype(np.int64)

        def later(place: np.ndarray, when: np.ndarray, known: np.ndarray) -> KnownLater:
            order = np.argsort(known, kind="stable")
            return KnownLater(place[order], (when + first)[order].astype(np.int32), known[order])

        self.hospital = joints.hospital[:count].astype(np.int32)
        self.implanted = (day + first).astype(np.int32)
        self.known = received(self.hospital, day, "primary")
        done = draw_revisions(own, register.several.catalogues[0])
        seen = np.flatnonzero(done.first & (done.joint < count))
        seen = seen[own.ended[done.joint[seen]] == REVISED]
        hospital = own.setting.units.pair_hospital[done.pair[seen]]
        self.revisions = later(done.joint[seen], done.day[seen], received(hospital, done.day[seen], "revision"))
        exits = own.lives.exits
        gone = np.minimum(exits.death_day, exits.loss_day)[patient]
        left = np.flatnonzero(gone <= days.last)
        ends = np.array([days.number(end) for end in quarter_ends(days.start, days.through)])
        heard = ends[np.searchsorted(ends, gone[left])] + FEED_LAG + first
        self.ends = later(left, gone[left].astype(np.int64), heard)
        feed = np.full(len(ends), -1)
        self._limits = {
            "hospital": np.concatenate([schedule.hospital, feed]),
            "received": np.concatenate([schedule.received, ends + FEED_LAG]) + first,
            "complete_through": np.concatenate([schedule.complete_through, ends]) + first,
        }
        self._hospitals = len(own.setting.units.hospitals.codes)
        self.corrected, self.touched_revisions = np.zeros(count, dtype=bool), np.zeros(0, dtype=np.int64)


def planted_parameters(design: Design, factors: Sequence[float]) -> Parameters:
    """Knees in which implants of these factors are introduced, and no other is poor on purpose."""
    others = design.joints * (1 - sum(kind.share.start for kind in KNEE.classes[1:]))
    implants = tuple(
        PlantedImplant(f"planted {number}", uses / others, FROM_YEAR, THROUGH.year, factor=factor)
        for number, (uses, factor) in enumerate(zip(design.uses, factors, strict=True))
    )
    return replace(KNEE, frailty=replace(KNEE.frailty, poor_implants=implants, poor_lot=None))


def _made(design: Design, seed: int, factors: Sequence[float]) -> ScreenedRegister:
    parameters = (planted_parameters(design, factors),)
    return ScreenedRegister.of(simulate_several(design.joints, seed, through=THROUGH, parameters=parameters))


def _pools(register: ScreenedRegister) -> list[Pool]:
    """The class that planted implants are of."""
    return [pool for pool in register.pools(apart=()) if pool.joint_class == "total"]


def _codes(register: ScreenedRegister, pool: Pool) -> list[int | None]:
    """The place in a pool of each planted implant's component, if it has one there."""
    (own,), implants = register.several.registers, register.several.registers[0].setting.implants
    families = [int(implants.constructs.other[implants.planted(n)]) for n in range(_planted_count(register))]
    place = {code: number for number, code in enumerate(pool.codes)}
    named = [[register.several.catalogues[0].implant_code(family, part) for part in range(3)] for family in families]
    assert own.joint == "knee"
    return [next((place[code] for code in codes if code in place), None) for codes in named]


def _planted_count(register: ScreenedRegister) -> int:
    return len(register.several.registers[0].setting.parameters.frailty.poor_implants)


def _true_ratios(register: ScreenedRegister) -> list[float]:
    pool = next(pool for pool in _pools(register) if pool.role == "tibial")
    ratio = register.truth(pool, windows_of(())[0]).ratio
    return [float(ratio[place]) for place in _codes(register, pool) if place is not None]


def ratios_of(design: Design, number: int) -> list[float]:
    """The ratios that one register of a design plants: each use meets each ratio in turn."""
    turn = [design.uses[:place].count(uses) for place, uses in enumerate(design.uses)]
    kind = [sorted(set(design.uses)).index(uses) for uses in design.uses]
    each = [design.uses.count(uses) for uses in design.uses]
    return [RATIOS[(number * many + n + k) % len(RATIOS)] for many, n, k in zip(each, turn, kind)]


def made_register(design: Design, number: int, seed: int) -> tuple[ScreenedRegister, list[float], list[float]]:
    """
    Make one register whose planted implants have the wanted ratios to all others.

    They are made once as ordinary ones; what their surgeons and patients do to them, and what the other planted ones
    do to the others, is then taken out of their factors.

    Returns:
        The register, the ratios as planned and as they are.
    """
    wanted = ratios_of(design, number)
    plain = np.array(_true_ratios(_made(design, seed, [1.0] * len(wanted))))
    share = np.array(design.uses) / design.joints
    excess = share * (np.array(wanted) - 1)
    factors = np.array(wanted) / plain * (1 + excess.sum() - excess)
    register = _made(design, seed, factors.tolist())
    return register, wanted, _true_ratios(register)


def quarters_of() -> list[date]:
    """The quarters that are screened: from the introduction on."""
    return [quarter_end(year, number) for year in range(FROM_YEAR, THROUGH.year + 1) for number in range(1, 5)]


def _apart(register: ScreenedRegister, pools: Sequence[Pool], day: date) -> list[np.ndarray]:
    gone = register.withdrawn(day.year - register.several.days.start.year + 1)
    return [np.array([code in gone for code in pool.codes], dtype=bool) for pool in pools]


def study(design: Design, number: int, seed: int, sets: Sequence[Thresholds]) -> Studied:
    """Make one register of a design and screen it quarter by quarter with each threshold set."""
    register, wanted, true = made_register(design, number, seed)
    pools, quarters = _pools(register), quarters_of()
    known, windows = GeneratedThen(register), windows_of(read_settings().windows)
    screened = {
        stated: Replay(
            known,
            pools,
            lambda day: _apart(register, pools, day),
            replace(read_settings(), stated_ratio=stated),
            windows,
        ).quarters(quarters)
        for stated in dict.fromkeys(one.stated_ratio for one in sets)
    }
    called = [_called(screened[one.stated_ratio], one) for one in sets]
    last = [register.truth(pool, window).ratio for pool in pools for window in windows]
    truth = [np.array(last[n * len(windows) : (n + 1) * len(windows)]) for n in range(len(pools))]
    signals, false = [], []
    for one, found in zip(sets, called, strict=True):
        signals.append(sum(int(each.sum()) for each in found[-1]))
        false.append(
            sum(int((each & ~(ratio > one.stated_ratio)).sum()) for each, ratio in zip(found[-1], truth, strict=True))
        )
    ends = np.array([register.several.days.number(day) for day in quarters])
    planted = [_planted(register, design, pools, n, wanted, true, called, ends) for n in range(len(wanted))]
    return Studied(tuple(planted), tuple(signals), tuple(false))


def _called(screened: Sequence[Sequence[PoolThen]], one: Thresholds) -> list[list[np.ndarray]]:
    """For each quarter and pool, (windows, units) bool: called out by a set."""
    found = []
    for quarter in screened:
        tested = [np.logical_not(np.isnan(each.p)) for each in quarter]
        p = np.concatenate([each.p[which] for each, which in zip(quarter, tested, strict=True)])
        left, called = q_values(p, one.correction) <= one.q, []
        for which in tested:
            signal, own = np.zeros(which.shape, dtype=bool), int(np.count_nonzero(which))
            signal[which], left = left[:own], left[own:]
            called.append(signal)
        found.append(called)
    return found


def _planted(
    register: ScreenedRegister,
    design: Design,
    pools: Sequence[Pool],
    number: int,
    wanted: Sequence[float],
    true: Sequence[float],
    called: Sequence[Sequence[Sequence[np.ndarray]]],
    ends: np.ndarray,
) -> Planted:
    places = [_codes(register, pool)[number] for pool in pools]
    tibial = next((pool, place) for pool, place in zip(pools, places) if pool.role == "tibial")
    own = tibial[0].joint_no[tibial[0].unit == tibial[1]]
    first = int(register.several.registers[0].joints.primaries.day[own].min())
    before = int(np.count_nonzero(ends < first))
    years: list[float | None] = []
    quarters: list[int | None] = []
    for quarter in called:
        seen = [
            any(place is not None and each[:, place].any() for each, place in zip(found, places)) for found in quarter
        ]
        at = seen.index(True) if True in seen else None
        years.append(None if at is None else (int(ends[at]) - first) / 365.25)
        quarters.append(None if at is None else at - before + 1)
    return Planted(
        design.uses[number], wanted[number], true[number], len(own), first / 365.25, tuple(years), tuple(quarters)
    )


def studies(designs: Sequence[Design], sets: Sequence[Thresholds], seed: int) -> Iterator[Studied]:
    """Study all registers of all designs, each with a seed of its own."""
    for place, design in enumerate(designs):
        for number in range(design.registers):
            yield study(design, number, seed + 10_000 * place + number, sets)
