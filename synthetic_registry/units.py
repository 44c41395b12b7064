"""
Hospitals and surgeons: how much they do, where and when they are active, how well they do,
and which of them are planted as poor.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from synthetic_registry.operation_days import OperationDays
from synthetic_registry.parameters import Parameters
from synthetic_registry.streams import spread, stream

NOBODY = np.zeros(0, np.int16)
UNIT_KINDS = ("hospitals", "surgeons")
TWO_TRADES = 0.3  # share of surgeons who may do a second kind of joint
# The surgeon of the implant that only looks poor, where a register is large enough to have one: implant-years at
# least, but for deaths and revisions, of joints done since the implant's first year; and at most of a hospital's work.
FOLLOWED, OF_HOSPITAL = 15_000, 0.3
OF_MAIN_CLASS = 0.6  # share of the work of surgeons who do the lesser class too that is counted as the main one


@dataclass(frozen=True)
class Hospitals:
    """One entry a hospital; `first_year` is numbered from the register's first."""

    codes: list[str]
    regions: list[str]
    volume: np.ndarray  # relative
    first_year: np.ndarray
    factor: np.ndarray  # on every hazard of its joints
    poor: np.ndarray  # positions of the planted ones


@dataclass(frozen=True)
class Surgeons:
    """One entry a surgeon; active in whole calendar years, numbered from the register's first."""

    codes: list[str]
    home: np.ndarray  # hospital
    volume: np.ndarray  # relative
    first_year: np.ndarray
    last_year: np.ndarray
    appetite: np.ndarray  # for the lesser class, log-odds scale; -inf: never
    factor: np.ndarray
    poor: np.ndarray


@dataclass(frozen=True)
class Units:
    """Hospitals, surgeons, and which surgeon works where: one entry a pair of them."""

    hospitals: Hospitals
    surgeons: Surgeons
    pair_hospital: np.ndarray
    pair_surgeon: np.ndarray
    pair_weight: np.ndarray  # (years, pairs): share of the register's operations in that year, 0 where inactive

    def surgeon_years(self, shares: np.ndarray) -> np.ndarray:
        """Sum a (years, pairs) table over a surgeon's hospitals; (years, surgeons)."""
        table = np.zeros((len(shares), len(self.surgeons.codes)))
        for year, row in enumerate(shares):
            table[year] = np.bincount(self.pair_surgeon, weights=row, minlength=table.shape[1])
        return table


def scaled(numbers: tuple[float, float, float], joints: int) -> int:
    """
    How many of something a register of this size has: number at a million joints, power of size, least number.

    >>> scaled((100, 0.39, 4), 20_000), scaled((100, 0.39, 4), 1_000_000)
    (22, 100)
    """
    at_million, power, least = numbers
    return max(int(least), round(at_million * (joints / 1e6) ** power))


def make_units(parameters: Sequence[Parameters], days: Sequence[OperationDays], joints: int, seed: int) -> list[Units]:
    """
    Make the units of a register of so many joints: for each kind of joint the same hospitals and surgeons, and
    who of them does it where. A unit is planted as poor in one kind of joint only.
    """
    rng = stream(seed, "units")
    main = parameters[0]
    hospitals = _hospitals(rng, main, days[0], joints)
    surgeons = _surgeons(rng, main, days[0], joints, hospitals)
    pair_hospital, pair_surgeon, share = _workplaces(rng, main, hospitals, surgeons)
    active = _active_years(days[0], surgeons)[:, pair_surgeon] * (
        np.arange(days[0].years)[:, None] >= hospitals.first_year[pair_hospital]
    )
    work = active * share * surgeons.volume[pair_surgeon]
    does = _trades(seed, parameters, surgeons)
    made: list[Units] = []
    together = sum(own.primaries for own in parameters)
    for number, (own, calendar) in enumerate(zip(parameters, days, strict=True)):
        weight = _hospital_shares(work * does[pair_surgeon, number], pair_hospital, hospitals)
        leaning = surgeons if number == 0 else replace(surgeons, appetite=_appetite(seed, own, len(surgeons.codes)))
        units = Units(hospitals, leaning, pair_hospital, pair_surgeon, weight)
        taken = tuple(np.concatenate([NOBODY, *(getattr(u, kind).poor for u in made)]) for kind in UNIT_KINDS)
        made.append(_planted(units, own, calendar, joints * own.primaries / together, *taken))
    return made


def _trades(seed: int, parameters: Sequence[Parameters], surgeons: Surgeons) -> np.ndarray:
    """
    Say which kinds of joint each surgeon does: most do one, some two; (surgeons, kinds) bool.

    Who is longest in a hospital does the kinds that are done most, so that every hospital has them in every year.
    """
    count, kinds = len(surgeons.codes), len(parameters)
    if kinds == 1:
        return np.ones((count, 1), bool)
    rng = stream(seed, "surgeons' trades")
    wanted = np.sqrt([own.primaries for own in parameters])
    main = rng.choice(kinds, count, p=wanted / wanted.sum())
    does = np.arange(kinds) == main[:, None]
    second = rng.choice(kinds, count, p=wanted / wanted.sum())
    does |= (np.arange(kinds) == second[:, None]) & (rng.random(count) < TWO_TRADES)[:, None]
    order = np.lexsort((surgeons.first_year - surgeons.last_year, surgeons.home))
    _, first = np.unique(surgeons.home[order], return_index=True)
    always = np.isin(np.arange(count), order[first])
    often = np.array([own.primaries >= 0.2 for own in parameters])
    does |= always[:, None] & often
    # Some of the busiest do what is done least, so that it is done in every year.
    busiest = np.flatnonzero(always)[np.argsort(-surgeons.volume[always], kind="stable")]
    does[busiest[:: max(len(busiest) // 4, 1)][:4]] = True
    return does


def _appetite(seed: int, own: Parameters, count: int) -> np.ndarray:
    """Draw leanings to the lesser classes of a kind of joint."""
    rng = stream(seed, own.stream("appetites"))
    users = max(round(own.structure.class_users * count), 2)
    return rng.permutation(np.concatenate([1.1 * spread(rng, users), np.full(count - users, -np.inf)]))


def _hospitals(rng: np.random.Generator, parameters: Parameters, days: OperationDays, joints: int) -> Hospitals:
    structure = parameters.structure
    count = scaled(structure.hospitals, joints)
    volume = np.exp(structure.hospital_volume_sd * spread(rng, count))
    late = np.flatnonzero(volume < np.quantile(volume, 0.8))[: round(structure.late_hospitals * count)]
    first_year = np.zeros(count, np.int16)
    first_year[late] = np.minimum(rng.integers(1, 11, len(late)), days.years - 1)
    regions = rng.permutation(np.arange(count) % structure.regions) + 1
    return Hospitals(
        codes=[f"H{number:03d}" for number in range(1, count + 1)],
        regions=[f"R{region:02d}" for region in regions],
        volume=volume,
        first_year=first_year,
        factor=np.exp(parameters.frailty.hospital * spread(rng, count)),
        poor=NOBODY,
    )


def _surgeons(
    rng: np.random.Generator, parameters: Parameters, days: OperationDays, joints: int, hospitals: Hospitals
) -> Surgeons:
    structure, places = parameters.structure, len(hospitals.codes)
    at_million, power, each = structure.surgeons
    count = max(scaled((at_million, power, 1), joints), round(each * places))
    # The first surgeon of each hospital stays throughout; the others come in proportion to its volume.
    others = rng.choice(places, count - places, p=hospitals.volume / hospitals.volume.sum())
    home = np.concatenate([np.arange(places), np.sort(others)])
    begins = np.where(np.arange(count) < places, -1, rng.integers(-17, days.years, count))
    ends = np.where(np.arange(count) < places, days.years, begins + rng.integers(18, 33, count))
    begins = np.maximum(begins, hospitals.first_year[home])
    ends = np.maximum(ends, begins + 4)
    order = rng.permutation(count)  # codes say nothing about who they are
    users = max(round(structure.class_users * count), 2)
    appetite = np.concatenate([1.1 * spread(rng, users), np.full(count - users, -np.inf)])
    return Surgeons(
        codes=[f"S{number:04d}" for number in range(1, count + 1)],
        home=home[order],
        volume=np.exp(structure.surgeon_volume_sd * spread(rng, count)),
        first_year=np.clip(begins[order], 0, days.years - 1),
        last_year=np.clip(ends[order], 0, days.years - 1),
        appetite=rng.permutation(appetite),
        factor=np.exp(parameters.frailty.surgeon * spread(rng, count)),
        poor=NOBODY,
    )


def _workplaces(
    rng: np.random.Generator, parameters: Parameters, hospitals: Hospitals, surgeons: Surgeons
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Pair surgeons with hospitals: (pairs,) hospital, surgeon, and the share of the surgeon's work there."""
    count, places = len(surgeons.codes), len(hospitals.codes)
    one, two, _ = parameters.structure.surgeon_hospitals
    drawn = rng.random(count)
    number = 1 + (drawn > one) + (drawn > one + two)
    chance = hospitals.volume / hospitals.volume.sum()
    second, third = (rng.choice(places, count, p=chance) for _ in range(2))
    everyone = np.arange(count)
    has_second = (number >= 2) & (second != surgeons.home)
    has_third = (number == 3) & (third != surgeons.home) & (third != second)
    hospital = np.concatenate([surgeons.home, second[has_second], third[has_third]])
    surgeon = np.concatenate([everyone, everyone[has_second], everyone[has_third]])
    share = np.concatenate([np.full(count, 0.75), np.full(has_second.sum(), 0.25), np.full(has_third.sum(), 0.15)])
    return hospital.astype(np.int16), surgeon.astype(np.int16), share


def _active_years(days: OperationDays, surgeons: Surgeons) -> np.ndarray:
    year = np.arange(days.years)[:, None]
    return (year >= surgeons.first_year) & (year <= surgeons.last_year)


def _hospital_shares(work: np.ndarray, pair_hospital: np.ndarray, hospitals: Hospitals) -> np.ndarray:
    """Scale the surgeons' work so that each hospital does its own volume; (years, pairs), rows sum to 1."""
    places = len(hospitals.codes)
    weight = np.zeros_like(work)
    for year, row in enumerate(work):
        done = np.bincount(pair_hospital, weights=row, minlength=places)
        weight[year] = row * (hospitals.volume / np.where(done > 0, done, 1))[pair_hospital]
    return weight / weight.sum(axis=1, keepdims=True)


def _planted(
    units: Units,
    parameters: Parameters,
    days: OperationDays,
    joints: float,
    poor_hospitals: np.ndarray,
    poor_surgeons: np.ndarray,
) -> Units:
    """Choose the poor hospitals and surgeons, with enough work to be seen and not poor already, and worsen them."""
    hospitals, surgeons = units.hospitals, units.surgeons
    count, worse = parameters.frailty.poor_hospitals
    poor = np.array(_middling_hospitals(units, days, count, poor_hospitals), dtype=np.int16)
    units = replace(units, hospitals=replace(hospitals, poor=poor, factor=_worsened(hospitals.factor, poor, worse)))
    count, worse = parameters.frailty.poor_surgeons
    busy = _busy_surgeons(units, days, count, poor_surgeons)
    looks_poor = [implant for implant in parameters.frailty.poor_implants if implant.only_looks_poor]
    for implant in looks_poor[:1]:
        first = _longest_followed(units, days, joints, max(implant.from_year - days.start.year, 0), poor_surgeons)
        others = sorted(busy, key=lambda one: surgeons.home[one] in surgeons.home[first])  # rather of other hospitals
        busy = [*first, *(one for one in others if one not in first)][:count]
    poor = np.array(busy, dtype=np.int16)
    return replace(units, surgeons=replace(surgeons, poor=poor, factor=_worsened(surgeons.factor, poor, worse)))


def _worsened(factor: np.ndarray, poor: np.ndarray, worse: float) -> np.ndarray:
    return np.where(np.isin(np.arange(len(factor)), poor), worse, factor)


def _untaken(ranked: np.ndarray, taken: np.ndarray, count: int) -> np.ndarray:
    """Leave out units that are planted already, where enough others are left."""
    others = ranked[~np.isin(ranked, taken)]
    return others if len(others) >= count else ranked


def _middling_hospitals(units: Units, days: OperationDays, count: int, taken: np.ndarray) -> list[int]:
    """Find hospitals in the upper half by volume, there from the start, whose surgeons are no better than others."""
    hospitals, surgeons = units.hospitals, units.surgeons
    work = days.operations @ units.pair_weight
    done, weighted = (
        np.bincount(units.pair_hospital, weights=weights, minlength=len(hospitals.codes))
        for weights in (work, work * surgeons.factor[units.pair_surgeon])
    )
    ranked = np.argsort(-hospitals.volume, kind="stable")
    ranked = _untaken(ranked[hospitals.first_year[ranked] == 0], taken, count)
    upper = ranked[round(0.15 * len(ranked)) : max(round(0.5 * len(ranked)), 2 * count)]
    plain = weighted[upper] > 0.97 * done[upper]
    return upper[np.argsort(~plain, kind="stable")][:: max(1, len(upper) // (2 * count))][:count].tolist()


def _longest_followed(
    units: Units, days: OperationDays, joints: float, first_year: int, taken: np.ndarray
) -> list[int]:
    """
    Find the surgeon whose joints since a year are followed longest together, so that a doubled risk is told from
    chance, as a small part of a hospital that is neither planted nor better than others. Small registers have nobody
    with so much work in so large a hospital.
    """
    surgeons, hospitals = units.surgeons, units.hospitals
    work = units.surgeon_years(units.pair_weight)
    left = np.arange(days.years)[::-1] + 0.5
    followed = joints * (left * days.operations)[first_year:] @ work[first_year:]
    followed *= np.where(np.isneginf(surgeons.appetite), 1, OF_MAIN_CLASS)
    done = np.bincount(units.pair_hospital, days.operations @ units.pair_weight, len(hospitals.codes))
    part = days.operations @ work / np.maximum(done[surgeons.home], 1e-12)
    fits = (followed >= FOLLOWED) & (part <= OF_HOSPITAL)
    fits &= ~np.isin(surgeons.home, hospitals.poor) & (hospitals.factor[surgeons.home] >= 1)
    found = np.setdiff1d(np.flatnonzero(fits), taken)
    return found[np.argsort(-followed[found], kind="stable")][:1].tolist()


def _busy_surgeons(units: Units, days: OperationDays, count: int, taken: np.ndarray) -> list[int]:
    """
    Find surgeons with much work, of different hospitals that are not planted and no better than others, and in
    these a small part: so a poor surgeon neither makes a hospital poor nor is hidden by a good one.
    """
    surgeons, hospitals = units.surgeons, units.hospitals
    work = days.operations @ units.surgeon_years(units.pair_weight)
    of_hospital = work / hospitals.volume[surgeons.home]
    plain = ~np.isin(surgeons.home, hospitals.poor) & (hospitals.factor[surgeons.home] > 0.95)
    ranked = np.argsort(-work, kind="stable")
    ranked = _untaken(ranked[work[ranked] > 0], taken, count)
    busy = ranked[: max(count + 1, round(0.3 * len(ranked)))]
    order = busy[np.lexsort((of_hospital[busy], ~plain[busy]))]
    _, first = np.unique(surgeons.home[order], return_index=True)
    chosen = np.concatenate([order[np.sort(first)], np.delete(order, first)])
    return chosen[:count].tolist()
