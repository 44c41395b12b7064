"""Large synthetic registers with what the generator plants in each: what one screen at the last day finds of it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from screened_registers import ScreenedRegister

from regdash.signals.model import IMPLANTS, LOOK_CLOSER, SIZES
from regdash.signals.pool import Pool, windows_of
from regdash.signals.screen import Finding, screen
from regdash.signals.settings import ScreenSettings, read_settings
from regdash.stats.largest_fall import falls
from regdash.stats.left_out import left_out_ratios
from regdash.stats.own_and_others import OwnAndOthers
from synthetic_registry.implants import MIDDLE_SIZE
from synthetic_registry.parameters import Parameters, PlantedImplant
from synthetic_registry.register import Register
from synthetic_registry.simulation import ALL, simulate_several

LEVEL = 0.95
LEAST_RATIO, LEAST_DUE = 2.0, 40  # what is promised is of planted implants from here on

Key = tuple[str, str, str, str]  # class with its joint, role, code, window


@dataclass(frozen=True)
class Without:
    """What explains an implant that only looks poor: its ratio when one surgeon is left out."""

    named: bool  # without nobody does it fall further than without the surgeon who is planted as poor
    ratio: float
    ratio_without: float


@dataclass(frozen=True)
class Found:
    """One planted implant, in the window that it affects."""

    joint: str
    kind: str
    code: str
    window: str
    ratio: float  # true
    due: float  # revisions at the hazards of all others
    revised: int
    q: float | None
    signal: bool
    without: "Without | None"  # of the implant that only looks poor

    @property
    def only_looks_poor(self) -> bool:
        """Whether its surgeon is planted as poor, and the implant is not."""
        return self.without is not None

    @property
    def promised(self) -> bool:
        """Whether it is poor and used enough for a signal to be promised."""
        return not self.only_looks_poor and self.ratio >= LEAST_RATIO and self.due >= LEAST_DUE


@dataclass(frozen=True)
class Seed:
    """One register."""

    seed: int
    planted: tuple[Found, ...]
    tests: int
    signals: int  # of the screen of implants
    false: int  # of them, with a true ratio up to the stated one
    size_signals: int
    size_false: int


def screened_seed(
    joints: int, seed: int, parameters: Sequence[Parameters] = ALL, settings: ScreenSettings | None = None
) -> Seed:
    """Simulate a register, screen its implants and their sizes once, and hold both against the truth."""
    settings = settings or read_settings()
    register = ScreenedRegister.of(simulate_several(joints, seed, parameters=parameters, prior=True))
    windows, counts = windows_of(settings.windows), []
    found: dict[Key, Finding] = {}
    truth: dict[Key, tuple[float, float]] = {}
    for kind in (IMPLANTS, SIZES):
        pools = register.pools(kind)
        screened = screen(pools, settings, windows, LEVEL)
        for one in screened.findings:
            found[_key(one)] = one
        for pool in pools:
            for window in windows:
                own = register.truth(pool, window)
                told = zip(pool.codes, own.ratio.tolist(), own.due.tolist())
                truth |= {(pool.joint_class, pool.role, code, window.label): (r, due) for code, r, due in told}
        false = sum(not truth[_key(one)][0] > settings.stated_ratio for one in screened.signals)
        counts.append((screened.tests, len(screened.signals), false))
        if kind == IMPLANTS:
            of_implants = pools
    planted = tuple(
        _found(own, key, one, found, truth, _without(register, own, of_implants, key) if one.only_looks_poor else None)
        for own, key, one in _planted(register)
    )
    (tests, signals, wrong), (_, size_signals, size_wrong) = counts
    return Seed(seed, planted, tests, signals, wrong, size_signals, size_wrong)


def _key(one: Finding) -> Key:
    return one.joint_class, one.role, one.code, one.window.label


def _planted(register: ScreenedRegister) -> list[tuple[Register, Key, PlantedImplant]]:
    """Where each planted implant is looked for: its own class, role and code, in the window that it affects."""
    found, several = [], len(register.several.registers) > 1
    for own, catalogue in zip(register.several.registers, register.several.catalogues):
        kind, constructs = own.setting.parameters.classes[0], own.setting.implants.constructs
        for number, planted in enumerate(own.setting.parameters.frailty.poor_implants):
            place = 0 if planted.best_seller == "other" else 1
            family = int((constructs.first, constructs.other)[place][own.setting.implants.planted(number)])
            role = own.setting.implants.families.roles[family][place]
            code = catalogue.implant_code(family, place)
            size = f" size {kind.places[place].sizes[MIDDLE_SIZE - 1]}" if planted.one_size_only else ""
            window = "5.." if planted.from_day else "all"
            joint_class = f"{kind.name} {own.joint}" if several else kind.name
            found.append((own, (joint_class, role, code + size, window), planted))
    return found


def _without(register: ScreenedRegister, its: Register, pools: Sequence[Pool], key: Key) -> Without:
    """Leave each surgeon of an implant out in turn, as its explanation does."""
    (pool,) = [pool for pool in pools if (pool.joint_class, pool.role) == key[:2]]
    own = pool.unit == pool.codes.index(key[2])
    rows = np.flatnonzero(own | pool.comparable)
    cause = pool.revised[rows].astype(np.int64)
    them = OwnAndOthers(own[rows], pool.stratum[rows], pool.day[rows].astype(np.int64), cause)
    surgeon = np.concatenate([each.joints.surgeon[: len(each.days)] for each in register.several.registers])
    surgeon = surgeon[pool.joint_no[rows]].astype(np.int64)
    users, place = np.unique(surgeon[them.own]), np.full(len(register.several.surgeons), -1)
    place[users] = np.arange(len(users))
    left = left_out_ratios(them, place[surgeon], [register.several.surgeons[user] for user in users.tolist()], LEVEL)
    whole = them.ratio(LEVEL)
    assert whole is not None
    known = [-np.inf if fall is None else fall for fall in falls(whole, left)]
    worst = int(np.argmax(known))
    ratio, without = whole.ratio.ratio or np.nan, left.ratios[worst].ratio.ratio or 0.0
    return Without(int(users[worst]) == int(its.setting.units.surgeons.poor[0]), ratio, without)


def _found(
    its: Register,
    key: Key,
    planted: PlantedImplant,
    found: dict[Key, Finding],
    truth: dict[Key, tuple[float, float]],
    without: Without | None,
) -> Found:
    one, (ratio, due) = found.get(key), truth.get(key, (np.nan, 0.0))
    return Found(
        joint=its.joint,
        kind=planted.kind,
        code=key[2],
        window=key[3],
        ratio=ratio,
        due=due,
        revised=one.revised if one else 0,
        q=one.q if one else None,
        signal=one is not None and one.signal == LOOK_CLOSER,
        without=without,
    )


def mean_false_share(seeds: Sequence[Seed]) -> float:
    """The mean over registers of the share of signals that are false; none of none is 0."""
    return float(np.mean([one.false / max(one.signals, 1) for one in seeds]))
