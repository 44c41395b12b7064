"""
Limits that hold where both joints of one patient are in the cohort.

Sources: two eyes of one person, R's survfit(..., cluster = id) on open data (tests/reference/README.md); and the
infinitesimal jackknife written out joint by joint, as in Andersen, Borgan, Gill & Keiding (1993), section IV.4.
"""

import random
from collections import defaultdict
from collections.abc import Sequence
from math import exp, log
from pathlib import Path
from statistics import NormalDist
from typing import Any

import pytest

from regdash import grouping
from regdash.errors import FilterError
from regdash.reports.desk import Desk
from tests.cuts import Row, joint
from tests.reports.desks import EVERYTHING, desk_of, reference, years_of

Z = NormalDist().inv_cdf(0.975)
BY_CLASS = grouping.parse("class")


def test_two_eyes_of_one_person_have_the_limits_of_r(tmp_path: Path) -> None:
    eyes = reference("data_diabetic")  # months with decimals, of which only the order matters
    order = sorted({float(row["time"]) for row in eyes})
    day = {months: place for place, months in enumerate(order)}
    seen: set[str] = set()
    rows = []
    for row in eyes:
        side = "right" if row["id"] in seen else "left"
        seen.add(row["id"])
        ended = {"1": "revised", "0": "in place"}[row["status"]]
        reason = "infection" if ended == "revised" else None
        rows.append(joint(patient=int(row["id"]), side=side, days=day[float(row["time"])], ended=ended, reason=reason))
    expected = reference("km_diabetic_cluster")
    asked = [years_of(sum(months <= float(row["time"]) for months in order) - 1) + 1e-6 for row in expected]
    found = desk_of(tmp_path, rows).risk(EVERYTHING, (), asked, cluster="patient")
    for row, r in zip(found.rows, expected, strict=True):
        assert 1 - row.estimate == pytest.approx(float(r["surv"]), rel=1e-10)
        assert 1 - row.upper == pytest.approx(float(r["lower_robust"]), rel=1e-9)
        assert 1 - row.lower == pytest.approx(float(r["upper_robust"]), rel=1e-9)


def register(seed: int) -> list[Row]:
    """Patients of one, two or three joints in two classes; both joints of a patient tend to fare alike."""
    draw, rows = random.Random(seed), []
    for patient in range(90):
        frail = draw.choice((0.4, 1.0, 2.5))
        for side in range(draw.choice((1, 1, 2, 2, 3))):
            days = min(int(draw.expovariate(frail / 40)) // 2, 60)
            ended = draw.choice(("revised", "revised", "died", "in place")) if days < 60 else "in place"
            rows.append(
                joint(
                    patient=patient,
                    side=("left", "right", "left")[side],
                    class_=draw.choice(("total", "partial")),
                    days=days,
                    ended=ended,
                    reason=draw.choice(("infection", "wear, bearing surface")) if ended == "revised" else None,
                )
            )
    return rows


def moved(rows: Sequence[Row], is_event: Any, competes: Any, day: int) -> tuple[float, dict[int, float]]:
    """The incidence by a day, joint by joint, and how far each patient's joints move it: sums of derivatives."""
    risk, free = 0.0, 1.0
    by_risk = [0.0] * len(rows)
    by_free = [0.0] * len(rows)
    for at in sorted({row["days"] for row in rows if row["days"] <= day}):
        here = [row["days"] >= at for row in rows]
        event = [row["days"] == at and is_event(row) for row in rows]
        ends = [own or (row["days"] == at and competes(row)) for own, row in zip(event, rows)]
        n, hit, gone = sum(here), sum(event), sum(ends)
        for i in range(len(rows)):
            own = (event[i] - hit / n * here[i]) / n
            every = (ends[i] - gone / n * here[i]) / n
            by_risk[i] += by_free[i] * hit / n + free * own
            by_free[i] = by_free[i] * (1 - gone / n) - free * every
        risk, free = risk + free * hit / n, free * (1 - gone / n)
    patients: dict[int, float] = defaultdict(float)
    for row, own in zip(rows, by_risk):
        patients[row["patient"]] += own
    return risk, patients


def revised(row: Row) -> bool:
    return row["ended"] == "revised"


def limits(risk: float, variance: float) -> tuple[float, float]:
    """On the log(-log(1 - F)) scale."""
    width = Z * variance**0.5 / ((1 - risk) * -log(1 - risk))
    return tuple(1 - exp(-exp(log(-log(1 - risk)) + sign * width)) for sign in (-1, 1))


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("view", ["implant", "patient", "infection", "after 5 days"])
def test_limits_are_those_of_patients_counted_joint_by_joint(tmp_path: Path, view: str, seed: int) -> None:
    rows = register(seed)
    asked: dict[str, Any] = {"view": "patient" if view == "patient" else "implant"}
    is_event, competes = revised, lambda row: view == "patient" and row["ended"] == "died"
    if view == "infection":
        asked = {"reason": "infection"}
        is_event, competes = (
            (lambda row: row["reason"] == "infection"),
            (lambda row: row["ended"] in ("revised", "died")),
        )
    if view == "after 5 days":
        asked["given_unrevised"] = years_of(5) + 1e-6
    desk = desk_of(tmp_path, rows)
    found = desk.risk(EVERYTHING, BY_CLASS, [years_of(30) + 1e-6], **asked, cluster="patient")
    for row in found.rows:
        own = [one for one in rows if one["class"] == row.group and (view != "after 5 days" or one["days"] > 5)]
        risk, patients = moved(own, is_event, competes, 30)
        assert row.estimate == pytest.approx(risk, rel=1e-10)
        assert (row.lower, row.upper) == pytest.approx(limits(risk, sum(u**2 for u in patients.values())), rel=1e-9)


def test_the_difference_takes_off_what_patients_with_a_joint_in_each_group_share(tmp_path: Path) -> None:
    rows = register(4)
    found = desk_of(tmp_path, rows).risk(
        EVERYTHING, BY_CLASS, [years_of(30) + 1e-6], difference=True, reference="total", cluster="patient"
    )
    (row,) = found.differences
    risks, patients = zip(
        *(
            moved([one for one in rows if one["class"] == name], revised, lambda _: False, 30)
            for name in (row.group, "total")
        )
    )
    together = {
        patient: patients[0].get(patient, 0) - patients[1].get(patient, 0) for patient in {*patients[0], *patients[1]}
    }
    se = sum(u**2 for u in together.values()) ** 0.5
    assert row.difference == pytest.approx(risks[0] - risks[1], rel=1e-10)
    assert (row.upper - row.lower) / 2 == pytest.approx(Z * se, rel=1e-9)


def test_patients_of_one_joint_have_the_limits_of_joints(tmp_path: Path) -> None:
    rows = [row | {"patient": n} for n, row in enumerate(register(5))]
    desk = desk_of(tmp_path, rows)
    plain = desk.risk(EVERYTHING, BY_CLASS, [years_of(30)])
    together = desk.risk(EVERYTHING, BY_CLASS, [years_of(30)], cluster="patient")
    assert together.rows == plain.rows
    assert "0 pairs of joints" in " ".join(together.head.cautions)


def test_an_endpoint_on_another_clock_pairs_its_own_days(tmp_path: Path) -> None:
    rows = register(6)
    desk = desk_of(tmp_path, rows)
    plain = desk.risk(EVERYTHING, (), [years_of(30) + 1e-6], endpoint="aseptic")
    (row,) = desk.risk(EVERYTHING, (), [years_of(30) + 1e-6], endpoint="aseptic", cluster="patient").rows
    risk, patients = moved(rows, lambda one: one["reason"] == "wear, bearing surface", lambda _: False, 30)
    assert row.estimate == pytest.approx(risk, rel=1e-10) == plain.rows[0].estimate
    assert (row.lower, row.upper) == pytest.approx(limits(risk, sum(u**2 for u in patients.values())), rel=1e-9)


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return desk_of(tmp_path, register(7))


def test_the_answer_says_so_with_its_source(desk: Desk) -> None:
    head = desk.risk(EVERYTHING, BY_CLASS, [years_of(30)], cluster="patient", difference=True).head
    assert "the variance is that of patients, not of joints" in head.method
    assert "Lin & Wei" in head.method
    assert any("pairs of joints belong to one patient each" in caution for caution in head.cautions)
    assert "patients, not of joints" not in desk.risk(EVERYTHING, BY_CLASS, [years_of(30)]).head.method


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"cluster": "region"}, "not clustered by region"),
        ({"cluster": "patient", "standardise": grouping.parse("sex")}, "not made for standardised risks"),
        ({"cluster": "patient", "margin": 0.2}, "not made for a margin"),
    ],
)
def test_what_cannot_be_clustered_is_refused_in_one_line(desk: Desk, more: dict[str, Any], said: str) -> None:
    with pytest.raises(FilterError, match=said):
        desk.risk(EVERYTHING, BY_CLASS, [years_of(30)], **more)
