"""Open data and drawn joints as an implant and all others, for the tests of what explains one implant."""

import csv
from functools import cache
from pathlib import Path

import numpy as np

from regdash.stats.own_and_others import OwnAndOthers

REFERENCE = Path(__file__).parent.parent / "reference"
Printed = dict[str, str]


def printed(name: str, what: str) -> list[Printed]:
    """What R printed under a word; the lines that made it stand in tests/reference/README.md."""
    with open(REFERENCE / f"{name}.csv", newline="") as file:
        return [row for row in csv.DictReader(file) if row["what"] == what]


@cache
def flchain() -> tuple[OwnAndOthers, np.ndarray, np.ndarray]:
    """
    The two highest groups of light chains stand for an implant, three kinds of death for reasons.

    Gives both sides in strata of age band and sex, who is a woman, and seven hospitals in turn.
    """
    with open(REFERENCE / "data_flchain.csv", newline="") as file:
        rows = list(csv.DictReader(file))
    age, day, dead, cause, group = (
        np.array([int(row[name]) for row in rows]) for name in ("age", "futime", "death", "cause", "flc.grp")
    )
    woman = np.array([row["sex"] == "F" for row in rows])
    stratum = np.searchsorted([59, 69, 79], age) * 2 + woman
    them = OwnAndOthers(group >= 9, stratum, day, np.where(dead == 1, cause, 0))
    return them, woman, np.arange(len(rows)) % 7


def drawn(
    joints: int, users: int, strata: int, span: int, seed: int, causes: int = 4, risk: float = 0.1
) -> tuple[OwnAndOthers, np.ndarray]:
    """Joints by chance, and the user of each; -1 for some. A short span makes many ties."""
    random = np.random.default_rng(seed)
    cause = np.where(random.random(joints) < risk, random.integers(1, causes + 1, joints), 0)
    sides = (random.random(joints) < 0.2, random.integers(0, strata, joints), random.integers(0, span, joints), cause)
    return OwnAndOthers(*sides), random.integers(-1, users, joints)
