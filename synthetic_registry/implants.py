"""
Invented implants: families of components, constructs made of them, their life on the market,
how well they do, and the planted ones.
"""

import itertools
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from synthetic_registry.operation_days import OperationDays
from synthetic_registry.parameters import JointClass, Parameters, PlantedImplant
from synthetic_registry.streams import spread, stream
from synthetic_registry.units import scaled

SIZES = 8  # of the two naming components
SIZE_STEPS = 2  # by which the two may differ
MIDDLE_SIZE = 4  # the size that most people have
NEVER_CEMENTED = ("shell", "baseplate", "glenoid tray", "stemless body")
LONG_AGO, FOR_EVER = -9, 99  # years from the register's start


@dataclass(frozen=True)
class Families:
    """One entry a family of components that belong together; its number is in their codes."""

    joint_class: np.ndarray  # position in the parameters' classes
    number: np.ndarray
    maker: np.ndarray  # from 1
    bearing: list[str]
    constraint: list[str]
    roles: list[tuple[str, str, str, str]]  # of its components in the four places
    sided: np.ndarray  # bool: first components fit one side only
    launch: np.ndarray  # calendar years from the register's start; negative before it
    withdrawn: np.ndarray
    factor: np.ndarray  # on every hazard of joints with this second component


@dataclass(frozen=True)
class Constructs:
    """One entry a construct: the families of its two naming components, and how much it is wanted."""

    joint_class: np.ndarray
    implant_type: np.ndarray  # position in the class's implant types
    first: np.ndarray  # family
    other: np.ndarray  # family
    weight: np.ndarray  # Zipf
    planted: np.ndarray  # position in the parameters' poor implants, -1: none


@dataclass(frozen=True)
class Implants:
    """Everything on the market."""

    families: Families
    constructs: Constructs

    def popularity(self, construct: np.ndarray, years: int) -> np.ndarray:
        """Use through the years, 0 to 1: three years' rise, a plateau, two years' decline; (years, constructs)."""
        family = self.families
        launch = np.maximum(family.launch[self.constructs.first], family.launch[self.constructs.other])[construct]
        end = np.minimum(family.withdrawn[self.constructs.first], family.withdrawn[self.constructs.other])[construct]
        year = np.arange(years)[:, None]
        return np.clip((year - launch + 1) / 3, 0, 1) * np.clip((end - year) / 2, 0, 1)

    @cached_property
    def one_piece_cup(self) -> np.ndarray:
        """Which families' second component is a one-piece cup that slides on the head of a stem; (families,) bool."""
        return np.array([roles[1] == "one-piece cup" and bool(roles[3]) for roles in self.families.roles])

    @cached_property
    def loose(self) -> np.ndarray:
        """Which families' two naming components never go in with cement; (2, families) bool."""
        return np.array([[roles[place] in NEVER_CEMENTED for roles in self.families.roles] for place in (0, 1)])

    @property
    def best_seller(self) -> int:
        """Find the construct of the first class that is used most; it is always there."""
        return 0

    def planted(self, number: int) -> int:
        """Find the construct that carries a planted implant."""
        return int(np.flatnonzero(self.constructs.planted == number)[0])


def make_implants(parameters: Parameters, days: OperationDays, joints: int, seed: int) -> Implants:
    """Make the implants of a register of so many joints."""
    rng = stream(seed, parameters.stream("implants"))
    families: list[dict] = []
    constructs: list[dict] = []
    for place in range(len(parameters.classes)):
        family, construct = _class_implants(rng, parameters, place, days, joints, seed)
        before = sum(len(earlier["number"]) for earlier in families)
        families.append(family)
        constructs.append(construct | {name: construct[name] + before for name in ("first", "other")})
    return Implants(Families(**_joined(families)), Constructs(**_joined(constructs)))


def _joined(parts: list[dict]) -> dict:
    """Put the columns of several parts end to end."""
    return {
        name: list(itertools.chain.from_iterable(part[name] for part in parts))
        if isinstance(parts[0][name], list)
        else np.concatenate([part[name] for part in parts])
        for name in parts[0]
    }


def _class_implants(
    rng: np.random.Generator, parameters: Parameters, place: int, days: OperationDays, joints: int, seed: int
) -> tuple[dict, dict]:
    """Make the families and constructs of one class; construct positions count within the class."""
    joint_class = parameters.classes[place]
    count = scaled(joint_class.constructs, joints)
    weight = np.arange(1, count + 1) ** -parameters.structure.zipf
    types = _types(joint_class, weight)
    own = _own_family(types)
    planted = parameters.frailty.poor_implants if place == 0 else ()
    kinds = np.concatenate([types[own], np.zeros(len(planted), int)])
    families = _families(rng, parameters, place, kinds, planted, days, seed)
    first, other = _pairing(rng, types, own, families["maker"], parameters.classes[place].pairs_across)
    alone = own.sum() + np.arange(len(planted))
    best = {name: np.array([implant.best_seller == name for implant in planted], bool) for name in ("first", "other")}
    constructs = {
        "joint_class": np.full(count + len(planted), place, np.uint8),
        "implant_type": np.concatenate([types, np.zeros(len(planted), int)]),
        "first": np.concatenate([first, np.where(best["first"], first[0], alone)]),
        "other": np.concatenate([other, np.where(best["other"], other[0], alone)]),
        "weight": np.concatenate([weight, np.zeros(len(planted))]),
        "planted": np.concatenate([np.full(count, -1), np.arange(len(planted))]),
    }
    usual = np.average(families["factor"][other], weights=weight)
    for number in np.flatnonzero([implant.only_looks_poor for implant in planted]):
        families["factor"][alone[number]] = usual  # it does as others do
    return families, constructs


def _types(joint_class: JointClass, weight: np.ndarray) -> np.ndarray:
    """Give each construct, the most used first, to the type that lacks most of its share."""
    share = np.array([(kind.share.start + kind.share.end) / 2 for kind in joint_class.implant_types])
    lacking = share / share.sum() * weight.sum()
    types = np.empty(len(weight), int)
    for place, use in enumerate(weight):
        types[place] = np.argmax(lacking)
        lacking[types[place]] -= use
    for number, missing in enumerate(np.setdiff1d(np.arange(len(share)), types), 1):
        types[-number] = missing
    return types


def _order_in_type(types: np.ndarray) -> np.ndarray:
    """Number the members of each type from 0, in their order."""
    order = np.empty(len(types), int)
    for kind in np.unique(types):
        order[types == kind] = np.arange((types == kind).sum())
    return order


def _own_family(types: np.ndarray) -> np.ndarray:
    """Say which constructs are families of their own; two in five of the later ones combine two families."""
    return _order_in_type(types) % 5 < 3


def _pairing(
    rng: np.random.Generator, types: np.ndarray, own: np.ndarray, maker: np.ndarray, across: bool
) -> tuple[np.ndarray, np.ndarray]:
    """
    Find the families of each construct's two naming components; combinations are of one maker if they can.

    Args:
        across: first components may come from a family of another type.
    """
    first = np.cumsum(own) - 1
    other = first.copy()
    for kind in np.unique(types[~own]):
        families = first[own & (types == kind)]
        pairs = rng.permutation([(f, o) for f in (first[own] if across else families) for o in families if f != o])
        pairs = pairs[np.argsort(maker[pairs[:, 0]] != maker[pairs[:, 1]], kind="stable")]
        combined = np.flatnonzero(~own & (types == kind))
        first[combined], other[combined] = pairs[: len(combined)].T
    return first, other


def _families(
    rng: np.random.Generator,
    parameters: Parameters,
    place: int,
    types: np.ndarray,
    planted: tuple[PlantedImplant, ...],
    days: OperationDays,
    seed: int,
) -> dict:
    """Make the families of one class: numbers that tell nothing, makers, life on the market, frailty."""
    joint_class, count = parameters.classes[place], len(types)
    number = rng.choice(np.arange(1, max(round(1.4 * count), 20) + 1), count, replace=False)
    before = rng.random(count) < np.linspace(0.9, 0.3, count)
    launch = np.where(before, -rng.integers(1, 9, count), rng.integers(0, max(days.years - 1, 1), count))
    withdrawn = launch + rng.integers(9, 24, count) + np.linspace(10, 0, count).astype(int)
    first = _order_in_type(types) == 0  # one of each type is always there
    launch, withdrawn = np.where(first, LONG_AGO, launch), np.where(first, FOR_EVER, withdrawn)
    factor = np.exp(parameters.frailty.implant * spread(rng, count))
    for implant, family in zip(planted, range(count - len(planted), count)):
        launch[family] = implant.from_year - parameters.start.year
        in_use = implant.to_year >= days.through.year
        withdrawn[family] = FOR_EVER if in_use else implant.to_year - parameters.start.year + 1
        factor[family] = 1.0
    own = stream(seed, parameters.stream(f"sided families of {joint_class.name}"))
    return {
        "joint_class": np.full(count, place, np.uint8),
        "number": number,
        "maker": rng.integers(1, parameters.structure.makers + 1, count),
        "bearing": [joint_class.implant_types[t].bearing for t in types],
        "constraint": [joint_class.implant_types[t].constraint for t in types],
        "roles": [joint_class.implant_types[t].roles for t in types],
        "sided": own.random(count) < joint_class.sided,
        "launch": launch,
        "withdrawn": withdrawn,
        "factor": factor,
    }
