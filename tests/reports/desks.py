"""Desks on small cuts, for the tests of reports."""

import csv
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from regdash.cohort import Cohort, parse
from regdash.reports.desk import Desk
from regdash.reports.policy import Policy
from tests.cuts import Row, make_cut

REFERENCE = Path(__file__).parent.parent / "reference"
SHOW_ALL = Policy(minimum_at_risk=1, minimum_events=1)
EVERYTHING = Cohort()


def desk_of(folder: Path, joints: Iterable[Row], policy: Policy = SHOW_ALL, **more: Any) -> Desk:
    """Open a desk on a cut of these joints; by default it withholds nothing."""
    return Desk(make_cut(folder, joints, **more), policy=policy)


def asked(desk: Desk, words: str) -> Cohort:
    return parse(words, known=desk.known)


def reference(name: str) -> list[dict[str, str]]:
    """Read a file of tests/reference; its source stands in the README there."""
    with open(REFERENCE / f"{name}.csv", newline="") as file:
        return list(csv.DictReader(file))


def years_of(day: int) -> float:
    return day / 365.25
