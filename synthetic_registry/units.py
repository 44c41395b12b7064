"""
Hospitals and surgeons: how much they do, where and when they are active, how well they do,
and which of them are planted as poor.
"""

from dataclasses import dataclass, replace

import numpy as np

from synthetic_registry.operation_days import OperationDays
from synthetic_registry.parameters import Parameters
from synthetic_registry.streams import spread, stream

NOBODY = np.zeros(0, np.int16)


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


def make_units(parameters: Parameters, days: OperationDays, joints: int, seed: int) -> Units:
    """Make the units of a register of so many joints."""
    rng = stream(seed, "units")
    hospitals = _hospitals(rng, parameters, days, joints)
    surgeons = _surgeons(rng, parameters, days, joints, hospitals)
    pair_hospital, pair_surgeon, share = _workplaces(rng, parameters, hospitals, surgeons)
    active = _active_years(days, surgeons)[:, pair_surgeon] * (
        np.arange(days.years)[:, None] >= hospitals.first_year[pair_hospital]
    )
    work = active * share * surgeons.volume[pair_surgeon]
    weight = _hospital_shares(work, pair_hospital, hospitals)
    return _planted(Units(hospitals, surgeons, pair_hospital, pair_surgeon, weight), parameters, days)


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


def _planted(units: Units, parameters: Parameters, days: OperationDays) -> Units:
    """Choose the poor hospitals and surgeons, with enough work to be seen, and worsen them."""
    hospitals, surgeons = units.hospitals, units.surgeons
    count, worse = parameters.frailty.poor_hospitals
    poor = np.array(_middling_hospitals(units, days, count), dtype=np.int16)
    units = replace(units, hospitals=replace(hospitals, poor=poor, factor=_worsened(hospitals.factor, poor, worse)))
    count, worse = parameters.frailty.poor_surgeons
    poor = np.array(_busy_surgeons(units, days, count), dtype=np.int16)
    return replace(units, surgeons=replace(surgeons, poor=poor, factor=_worsened(surgeons.factor, poor, worse)))


def _worsened(factor: np.ndarray, poor: np.ndarray, worse: float) -> np.ndarray:
    return np.where(np.isin(np.arange(len(factor)), poor), worse, factor)


def _middling_hospitals(units: Units, days: OperationDays, count: int) -> list[int]:
    """Find hospitals in the upper half by volume, there from the start, whose surgeons are no better than others."""
    hospitals, surgeons = units.hospitals, units.surgeons
    work = days.operations @ units.pair_weight
    done, weighted = (
        np.bincount(units.pair_hospital, weights=weights, minlength=len(hospitals.codes))
        for weights in (work, work * surgeons.factor[units.pair_surgeon])
    )
    ranked = np.argsort(-hospitals.volume, kind="stable")
    ranked = ranked[hospitals.first_year[ranked] == 0]
    upper = ranked[round(0.15 * len(ranked)) : max(round(0.5 * len(ranked)), 2 * count)]
    plain = weighted[upper] > 0.97 * done[upper]
    return upper[np.argsort(~plain, kind="stable")][:: max(1, len(upper) // (2 * count))][:count].tolist()


def _busy_surgeons(units: Units, days: OperationDays, count: int) -> list[int]:
    """
    Find surgeons with much work, of different hospitals that are not planted and no better than others, and in
    these a small part: so a poor surgeon neither makes a hospital poor nor is hidden by a good one.
    """
    surgeons, hospitals = units.surgeons, units.hospitals
    work = days.operations @ units.surgeon_years(units.pair_weight)
    of_hospital = work / hospitals.volume[surgeons.home]
    plain = ~np.isin(surgeons.home, hospitals.poor) & (hospitals.factor[surgeons.home] > 0.95)
    busy = np.argsort(-work, kind="stable")[: max(count + 1, round(0.3 * len(work)))]
    order = busy[np.lexsort((of_hospital[busy], ~plain[busy]))]
    _, first = np.unique(surgeons.home[order], return_index=True)
    chosen = np.concatenate([order[np.sort(first)], np.delete(order, first)])
    return chosen[:count].tolist()
