"""
What is put in: bearing and construct by the surgeon's habits and the market, and how it is done.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from regdash import vocabulary as words
from synthetic_registry.habits import SLOTS, favourites, habit_shares
from synthetic_registry.heads import draw_heads
from synthetic_registry.parameters import JointClass, Trend
from synthetic_registry.setting import Setting
from synthetic_registry.streams import drawn, spread

LEAST_OTHER_USERS = 5  # of the implant that only looks poor


@dataclass(frozen=True)
class _Own:
    """The joints of one class: their positions among all joints, and who did them when."""

    place: int
    kind: JointClass
    at: np.ndarray
    year: np.ndarray
    hospital: np.ndarray
    surgeon: np.ndarray
    work: np.ndarray  # (years, surgeons) work in this class
    rng: np.random.Generator

    def draw(self) -> np.ndarray:
        return self.rng.random(len(self.at))

    def some(self, which: np.ndarray) -> "_Own":
        """Choose some of the joints."""
        by_joint = ("at", "year", "hospital", "surgeon")
        return replace(self, **{name: getattr(self, name)[which] for name in by_joint})


def draw_devices(
    setting: Setting,
    work: np.ndarray,
    joint_class: np.ndarray,
    year: np.ndarray,
    hospital: np.ndarray,
    surgeon: np.ndarray,
) -> dict[str, np.ndarray]:
    """
    Draw the device fields of all joints, class by class.

    Args:
        work: (classes, years, surgeons) share of each year's operations.
        joint_class, year, hospital, surgeon: (joints,) of each joint.
    """
    columns: dict[str, np.ndarray] = {}
    for place, kind in enumerate(setting.parameters.classes):
        at = np.flatnonzero(joint_class == place)
        rng = setting.stream(f"devices of {kind.name}")
        own = _Own(place, kind, at, year[at], hospital[at], surgeon[at], work[place], rng)
        for name, values in _of_class(setting, own).items():
            columns.setdefault(name, np.zeros(len(joint_class), values.dtype))[at] = values
    return columns


def _of_class(setting: Setting, own: _Own) -> dict[str, np.ndarray]:
    construct, mobile_work = _constructs(setting, own)
    family = setting.implants.constructs.other[construct]
    bearings = np.array([words.BEARINGS.index(word) for word in setting.implants.families.bearing], np.uint8)
    designs = np.array([words.CONSTRAINTS.index(word) for word in setting.implants.families.constraint], np.uint8)
    bearing = bearings[family]
    return {
        "construct": construct,
        "bearing": bearing,
        "constraint": designs[family],
        "compartment": _compartments(own, bearing),
        "fixation": _fixations(setting, own, setting.implants.constructs.implant_type[construct], mobile_work),
        "technology": _technologies(setting, own),
        "patella": _patellas(setting, own),
        **draw_heads(setting, own.kind, own.year, setting.implants.constructs.implant_type[construct]),
    }


def _constructs(setting: Setting, own: _Own) -> tuple[np.ndarray, np.ndarray]:
    """Draw the construct of each joint, and say how much of the work is done with the first type of bearing."""
    types = own.kind.implant_types
    share = np.stack([setting.days.shares(kind.share) for kind in types])
    share /= share.sum(axis=0)
    if not own.kind.bearing_is_a_habit:
        chosen = _from_the_market(setting, own, own.work, share, np.arange(len(types)))
        return _planted(setting, own, chosen), np.zeros_like(own.work)
    leaning = habit_shares(2.0 * spread(own.rng, own.work.shape[1]), own.work, share[0])
    first = own.draw() < leaning[own.year, own.surgeon]
    one = _from_the_market(setting, own, own.work * leaning, share, np.array([0]))
    other = _from_the_market(setting, own, own.work * (1 - leaning), share, np.arange(1, len(types)))
    return np.where(first, one, other), own.work * leaning


def _from_the_market(setting: Setting, own: _Own, work: np.ndarray, share: np.ndarray, types: np.ndarray) -> np.ndarray:
    """Draw constructs of some types by what the surgeons like, as if every joint got one of them."""
    constructs = setting.implants.constructs
    offered = np.flatnonzero((constructs.joint_class == own.place) & np.isin(constructs.implant_type, types))
    wanted = constructs.weight[offered] * setting.implants.popularity(offered, setting.days.years)
    for kind in types:
        ours = constructs.implant_type[offered] == kind
        wanted[:, ours] *= (share[kind] / wanted[:, ours].sum(axis=1))[:, None]
    wanted /= wanted.sum(axis=1, keepdims=True)
    table = favourites(own.rng, work, wanted)[own.year, own.surgeon]
    used = np.array(SLOTS) * (table >= 0)
    bounds = np.cumsum(used, axis=1)
    slot = (own.draw()[:, None] * bounds[:, -1:] >= bounds[:, :-1]).sum(axis=1)
    return offered[table[np.arange(len(table)), slot]].astype(np.int16)


def _planted(setting: Setting, own: _Own, construct: np.ndarray) -> np.ndarray:
    """Put the planted implants in the place of some of the others."""
    implants = setting.parameters.frailty.poor_implants
    if own.place > 0 or not implants:
        return construct
    bounds = np.cumsum([_planted_use(setting, own, number) for number in range(len(implants))], axis=0)
    draw = own.draw()
    planted = np.array([setting.implants.planted(number) for number in range(len(implants))] + [-1], np.int16)
    place = sum((draw >= bound[own.year, own.surgeon]).astype(np.int64) for bound in bounds)
    return np.where(planted[place] >= 0, planted[place], construct)


def _planted_use(setting: Setting, own: _Own, number: int) -> np.ndarray:
    """Share of each surgeon's work that gets one planted implant; (years, surgeons)."""
    implants, surgeons = setting.parameters.frailty.poor_implants, setting.units.surgeons
    popular = setting.implants.popularity(np.array([setting.implants.planted(number)]), setting.days.years)[:, 0]
    by_work = np.argsort(-(setting.days.operations @ own.work), kind="stable")
    ranked = by_work[~np.isin(by_work, surgeons.poor)]
    if implants[number].only_looks_poor:
        return _poor_surgeons_implant(own, popular, int(surgeons.poor[0]), ranked)
    spread_out = [place for place, implant in enumerate(implants) if not implant.only_looks_poor]
    users = np.isin(np.arange(own.work.shape[1]), ranked[spread_out.index(number) :: len(spread_out)])
    class_work = setting.days.operations * own.work.sum(axis=1)
    usual = max((popular * class_work).sum() / class_work.sum(), 1e-12)  # 0 if it comes after the register's end
    share = implants[number].share * popular / usual
    theirs = np.maximum((own.work * users).sum(axis=1), 1e-12)
    return users * np.minimum(share * own.work.sum(axis=1) / theirs, 0.6)[:, None]


def _poor_surgeons_implant(own: _Own, popular: np.ndarray, surgeon: int, ranked: np.ndarray) -> np.ndarray:
    """Most of it is used by one poor surgeon; a few others use a little, and do as well as with anything else."""
    use = np.zeros_like(own.work)
    others = ranked[2 : 2 + 2 * LEAST_OTHER_USERS : 2]
    theirs = np.maximum(own.work[:, others].sum(axis=1), 1e-12)
    use[:, others] = np.minimum(0.1 * popular * own.work[:, surgeon] / theirs, 0.25)[:, None]
    use[:, surgeon] = 0.95 * popular
    return use


def _compartments(own: _Own, bearing: np.ndarray) -> np.ndarray:
    compartment = np.full(len(own.at), words.COMPARTMENTS.index(words.NOT_APPLICABLE), np.uint8)
    for word, shares in own.kind.compartments.items():
        ours = bearing == words.BEARINGS.index(word)
        compartment[ours] = drawn(own.rng, dict(shares), words.COMPARTMENTS, int(ours.sum()))
    return compartment


def _first_or_other(
    setting: Setting,
    own: _Own,
    trends: Mapping[str, Trend],
    listed: tuple[str, ...],
    habit: np.ndarray,
    work: np.ndarray,
    unit: np.ndarray,
) -> np.ndarray:
    """Draw a word: the first one by the habit of each unit, the others as the year has them."""
    names = list(trends)
    if len(names) == 1:
        return np.full(len(own.at), listed.index(names[0]), np.uint8)
    total = sum(setting.days.shares(trend) for trend in trends.values())
    leaning = habit_shares(habit, work, setting.days.shares(trends[names[0]]) / total)
    first = own.draw() < leaning[own.year, unit]
    other = setting.by_year({name: trends[name] for name in names[1:]}, listed, own.year, own.draw())
    return np.where(first, np.uint8(listed.index(names[0])), other)


def _fixations(setting: Setting, own: _Own, types: np.ndarray, mobile_work: np.ndarray) -> np.ndarray:
    """Draw fixation by type of implant: some types leave less choice than the class."""
    fixation = np.zeros(len(own.at), np.uint8)
    choices = [kind.fixations or own.kind.fixations for kind in own.kind.implant_types]
    for choice in {id(choice): choice for choice in choices}.values():
        ours = np.isin(types, [place for place, other in enumerate(choices) if other is choice])
        fixation[ours] = _fixations_of(setting, own.some(ours), choice, types[ours], mobile_work)
    return fixation


def _fixations_of(
    setting: Setting, own: _Own, choice: Mapping[str, Trend], types: np.ndarray, mobile_work: np.ndarray
) -> np.ndarray:
    """Draw among some fixations; with the first type of bearing a surgeon may lean to one (`fixation_pull`)."""
    surgeons = own.work.shape[1]
    own_habit = 1.3 * spread(own.rng, surgeons)
    habit = np.concatenate([own_habit, own_habit + own.kind.fixation_pull.get(next(iter(choice)), 0.0)])
    work = np.concatenate([own.work - mobile_work, mobile_work], axis=1)
    unit = own.surgeon + surgeons * (own.kind.bearing_is_a_habit & (types == 0)).astype(np.int64)
    return _first_or_other(setting, own, choice, words.FIXATIONS, habit, work, unit)


def _technologies(setting: Setting, own: _Own) -> np.ndarray:
    """Draw technology; busy surgeons and some hospitals take up what is new, so it is confounded on purpose."""
    surgeons = setting.units.surgeons
    volume = np.log(surgeons.volume)
    place = spread(own.rng, len(setting.units.hospitals.codes))[surgeons.home]
    habit = 1.2 * spread(own.rng, len(volume)) + 0.8 * place + 0.5 * (volume - volume.mean()) / volume.std()
    return _first_or_other(setting, own, own.kind.technologies, words.TECHNOLOGIES, habit, own.work, own.surgeon)


def _patellas(setting: Setting, own: _Own) -> np.ndarray:
    """Draw whether the patella is resurfaced, a strong habit of hospitals."""
    if setting.parameters.joint != "knee":
        return np.full(len(own.at), words.PATELLAS.index(words.NOT_APPLICABLE), np.uint8)
    yes, no = (words.PATELLAS.index(word) for word in ("resurfaced", "not resurfaced"))
    hospitals = setting.units.hospitals
    habit = 1.2 * spread(own.rng, len(hospitals.codes))
    target = np.clip([own.kind.patella_resurfaced], 1e-9, 1 - 1e-12)
    share = habit_shares(habit, hospitals.volume[None, :], target)[0]
    return np.where(own.draw() < share[own.hospital], yes, no).astype(np.uint8)
