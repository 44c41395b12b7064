"""Robust limits of hazard ratios: against R and a plain second implementation; refused in one line."""

from itertools import pairwise
from math import erfc, sqrt
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from regdash import grouping
from regdash.errors import FilterError, ModelError
from regdash.reports.desk import Desk
from regdash.reports.model import CompareReport, CompareRow
from regdash.reports.policy import Policy
from tests.cuts import Row, components_of, joint, random_joints
from tests.reports.desks import EVERYTHING, desk_of, reference
from tests.stats.plain_cox import Joint, information, score, score_residuals, split

KINDS = {"patient": "patient", "surgeon": "surgeon_id", "hospital": "hospital_id"}
Z = 1.959963984540054
YEAR, FIVE, TEN = 365, 1826, 3652  # the last whole days of so many years


@pytest.fixture(scope="module")
def drawn() -> list[Row]:
    return random_joints(420, seed=5)


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory, drawn: list[Row]) -> Desk:
    return desk_of(tmp_path_factory.mktemp("store"), drawn)


def compare(desk: Desk, by: str, adjust: str = "", **more: Any) -> CompareReport:
    return desk.compare(EVERYTHING, grouping.parse(by), grouping.parse(adjust), **more)


# ---- against a plain second implementation and R ---------------------------------------------


def plain(rows: list[Row], kind: str) -> list[Joint]:
    """Partial against total and men against women, of joints whose sex and cluster are recorded."""
    column = KINDS[kind]
    recorded = [row for row in rows if "not recorded" not in (row["sex"], row[column])]
    number = {cluster: n for n, cluster in enumerate(sorted({str(row[column]) for row in recorded}))}
    return [
        Joint(
            row["days"],
            row["ended"] == "revised",
            (float(row["class"] == "partial"), float(row["sex"] == "male")),
            cluster=number[str(row[column])],
        )
        for row in recorded
    ]


def top(joints: list[Joint], start: list[float]) -> list[float]:
    """Newton's steps on the plain score."""
    coef = np.array(start)
    for _ in range(12):
        coef += np.linalg.solve(information(joints, coef.tolist()), score(joints, coef.tolist()))
    return coef.tolist()


def scatter(joints: list[Joint], coef: list[float]) -> np.ndarray:
    """Lin & Wei's covariance, cluster by cluster: how far each pulls all coefficients, squared and added up."""
    pulls: dict[int, np.ndarray] = {}
    for one, pull in zip(joints, score_residuals(joints, coef)):
        pulls[one.cluster] = pulls.get(one.cluster, np.zeros(len(coef))) + pull
    influence = np.stack(list(pulls.values())) @ np.linalg.inv(information(joints, coef))
    return influence.T @ influence


def assert_agrees(row: CompareRow, coef: float, se: float) -> None:
    assert row.hazard_ratio == pytest.approx(np.exp(coef), rel=1e-8)
    assert row.lower == pytest.approx(np.exp(coef - Z * se), rel=1e-7)
    assert row.upper == pytest.approx(np.exp(coef + Z * se), rel=1e-7)
    assert row.p == pytest.approx(erfc(abs(coef) / se / sqrt(2)), rel=1e-6)


@pytest.mark.parametrize("kind", KINDS)
def test_limits_and_walds_test_are_those_of_a_plain_second_implementation(
    desk: Desk, drawn: list[Row], kind: str
) -> None:
    joints = plain(drawn, kind)
    coef = top(joints, [0.0, 0.0])
    covariance = scatter(joints, coef)
    report = compare(desk, "class", "sex", robust=kind)
    (row,) = report.rows
    assert_agrees(row, coef[0], sqrt(covariance[0, 0]))
    assert (report.modelled, report.clusters) == (len(joints), len({one.cluster for one in joints}))
    wald = next(row for row in report.tests if row.test == "Wald")
    assert wald.statistic == pytest.approx(coef[0] ** 2 / covariance[0, 0], rel=1e-7)
    assert (wald.df, wald.p) == (1, pytest.approx(row.p, rel=1e-9))


def test_limits_by_window_are_those_of_a_plain_second_implementation(desk: Desk, drawn: list[Row]) -> None:
    """Follow-up cut into rows after 5 and 10 years, the ratio of classes in each window its own, that of sexes not."""
    joints = [
        Joint(
            one.stop,
            one.event,
            (*(one.x[0] * (window == w) for w in range(3)), one.x[1]),
            one.start,
            cluster=one.cluster,
        )
        for one, window in split(plain(drawn, "patient"), [FIVE, TEN])
    ]
    coef = top(joints, [0.0] * 4)
    se = np.sqrt(np.diag(scatter(joints, coef)))
    report = compare(desk, "class", "sex", windows=(5, 10), robust="patient")
    for window, row in enumerate(report.rows[1:]):
        assert_agrees(row, coef[window], se[window])


def eyes() -> list[Row]:
    """
    Diabetic retinopathy, laser (mobile) or none (fixed) on either eye, risk score as age (tests/reference/README.md).

    Only the order of months matters: those up to the twelfth are days of the first year.
    """
    rows = reference("data_diabetic")
    places = {month: place for place, month in enumerate(sorted({float(row["time"]) for row in rows}))}
    return [
        joint(
            patient=int(row["id"]),
            side=row["eye"],
            age=int(row["risk"]),
            bearing="mobile" if row["trt"] == "1" else "fixed",
            days=places[float(row["time"])] + (0 if float(row["time"]) <= 12 else YEAR),
            ended="revised" if row["status"] == "1" else "in place",
            reason="infection" if row["status"] == "1" else None,
        )
        for row in rows
    ]


@pytest.fixture(scope="module")
def eyes_desk(tmp_path_factory: pytest.TempPathFactory) -> Desk:
    return desk_of(tmp_path_factory.mktemp("store"), eyes())


@pytest.mark.parametrize(
    ("adjust", "coef", "se"),
    [("", -0.77663740957355, 0.14746082751251), ("age:1", -0.82462375977998, 0.15405080261024)],
)
def test_two_eyes_of_a_person_have_the_limits_of_r(eyes_desk: Desk, adjust: str, coef: float, se: float) -> None:
    """R 4.2.2, survival 3.5-3: coxph(Surv(time, status) ~ trt + cluster(id), diabetic), and + factor(risk)."""
    report = compare(eyes_desk, "bearing", adjust, reference="fixed", robust="patient")
    assert_agrees(report.rows[0], coef, se)
    assert (report.modelled, report.clusters) == (394, 197)


def test_two_eyes_of_a_person_have_the_limits_of_r_by_window(eyes_desk: Desk) -> None:
    """
    R: sp = survSplit(Surv(time, status) ~ ., diabetic, cut = 12, episode = "w");
    coxph(Surv(tstart, time, status) ~ trt:factor(w) + factor(risk) + cluster(id), sp).
    """
    report = compare(eyes_desk, "bearing", "age:1", reference="fixed", windows=(1,), robust="patient")
    assert_agrees(report.rows[1], -0.742609901289826, 0.23798024010689)
    assert_agrees(report.rows[2], -0.880861031976574, 0.21310968507953)


def test_the_ratio_itself_and_the_tests_of_joints_stay(desk: Desk) -> None:
    """Only what tells how sure a ratio is changes; surgeons are all recorded or left out, so patients it is."""
    usual, robust = compare(desk, "class", "sex"), compare(desk, "class", "sex", robust="patient")
    assert robust.rows[0].hazard_ratio == pytest.approx(usual.rows[0].hazard_ratio, rel=1e-10)
    assert robust.rows[0].lower != pytest.approx(usual.rows[0].lower, rel=1e-4)
    ours, theirs = ({row.test: row for row in report.tests} for report in (robust, usual))
    for name in ("log-rank", "log-rank, stratified", "Gray", "proportionality"):
        assert ours[name].statistic == pytest.approx(theirs[name].statistic, rel=1e-8)
        assert ours[name].asks == f"{theirs[name].asks}; joints taken as independent"
    assert "Wald" not in theirs
    assert (usual.robust, usual.clusters) == (None, None)


def test_the_likelihood_ratio_test_is_left_out_and_the_report_says_why(desk: Desk) -> None:
    report = compare(desk, "class", "sex", robust="hospital")
    row = next(row for row in report.tests if row.test == "likelihood ratio")
    assert (row.statistic, row.p) == (None, None)
    assert row.withheld == "not made where limits are robust: a likelihood takes all joints as independent"
    assert "Their variance is that of hospitals, not of joints" in report.head.method
    assert "Lin & Wei" in report.head.method
    assert "independent." not in report.head.method.split("Tests:")[0].split("Their variance")[0]
    assert report.model.endswith(f"; limits by the scatter of {report.clusters} hospitals.")


def test_few_clusters_are_said_and_many_are_not(desk: Desk) -> None:
    (said,) = [c for c in compare(desk, "class", robust="hospital").head.cautions if "too narrow" in c]
    assert said.startswith(
        "Robust limits come out too narrow with fewer than about 30 hospitals in a group: the joints"
    )
    assert said.endswith("are of 8.")
    assert not [c for c in compare(desk, "class", robust="patient").head.cautions if "too narrow" in c]


def test_joints_without_a_surgeon_are_left_out_and_counted(tmp_path: Path) -> None:
    rows = [joint(bearing=("fixed", "mobile")[n % 2], surgeon_id=f"S{n % 17:04d}", days=900) for n in range(120)]
    for n, row in enumerate(rows[:40]):
        row |= {"ended": "revised", "days": 50 + n, "reason": "infection"}
    rows += [joint(bearing="fixed", surgeon_id="not recorded", days=900)] * 6
    report = compare(desk_of(tmp_path, rows), "bearing", robust="surgeon")
    assert [(left.field, left.joints) for left in report.left_out] == [("surgeon", 6)]
    assert (report.modelled, report.clusters) == (120, 17)


def test_a_group_whose_joints_are_of_one_hospital_has_no_robust_limits_and_the_others_do(tmp_path: Path) -> None:
    """One cluster pulls nowhere at the fit: its scatter would look like certainty."""
    rows = []
    for n in range(300):
        bearing = ("fixed", "mobile", "one-piece")[n % 3]
        hospital = "H001" if bearing == "one-piece" else f"H{n % 10 + 1:03d}"
        revised = n % 5 == 0
        rows.append(
            joint(
                bearing=bearing,
                hospital_id=hospital,
                days=100 + n if revised else 3000,
                ended="revised" if revised else "in place",
            )
        )
    report = compare(desk_of(tmp_path, rows), "bearing", reference="fixed", robust="hospital")
    withheld = {row.group: row.withheld for row in report.rows}
    assert withheld == {
        "mobile": None,
        "one-piece": "all joints of one-piece are of one hospital, which shows no scatter of hospitals",
    }
    wald = next(row for row in report.tests if row.test == "Wald")
    assert (wald.statistic, wald.withheld) == (None, "all joints of one-piece are of one hospital")


@pytest.mark.parametrize("endpoint", ["aseptic", "removed:tibial", "re-revision"])
def test_every_clock_is_counted_by_cluster_too(tmp_path: Path, endpoint: str) -> None:
    """Each endpoint has a query of its own; a patient's joints stay joints, and the ratio that of them."""
    rows = []
    for n, row in enumerate(random_joints(300, seed=8)):
        if row["ended"] == "revised":
            row["components"] = components_of(row["construct"], out_day=row["days"])
            row["episodes"] = [{}, {"day": row["days"] + 40 + n, "reason": "infection"}][: 1 + n % 2]
            row["followed_days"] = row["days"] + 900
        rows.append(row)
    desk = desk_of(tmp_path, rows)
    usual = compare(desk, "class", endpoint=endpoint)
    robust = compare(desk, "class", endpoint=endpoint, robust="patient")
    assert robust.rows[0].hazard_ratio == pytest.approx(usual.rows[0].hazard_ratio, rel=1e-9)
    assert robust.rows[0].lower != pytest.approx(usual.rows[0].lower, rel=1e-6)
    assert (robust.modelled, robust.head.revisions) == (usual.modelled, usual.head.revisions)


@pytest.mark.parametrize(
    ("more", "by", "adjust", "said"),
    [
        ({"robust": "patient", "penalised": True}, "class", "", r"Firth's penalty has limits of its own"),
        ({"robust": "hospital"}, "hospital", "", r"Groups are made by hospital, so that no scatter of hospitals"),
        ({"robust": "hospital"}, "class", "hospital", r"Ratios are adjusted for hospital, so that no scatter"),
        ({"robust": "ward"}, "class", "", r"Limits are not made robust by ward\. It may be: patient, surgeon"),
        ({"robust": "hospital"}, "class", "age,asa,sex", r"8 hospitals are too few for robust limits of \d+ coef"),
    ],
)
def test_what_cannot_be_robust_is_refused_in_one_line(
    desk: Desk, more: dict[str, Any], by: str, adjust: str, said: str
) -> None:
    with pytest.raises((FilterError, ModelError), match=said) as refusal:
        compare(desk, by, adjust, **more)
    assert "\n" not in str(refusal.value)


def test_the_number_of_clusters_is_withheld_where_it_is_small(tmp_path: Path) -> None:
    rows = [joint(bearing=("fixed", "mobile")[n % 2], hospital_id=f"H{n % 4 // 2:03d}", days=900) for n in range(400)]
    for n, row in enumerate(rows[:200]):
        row |= {"ended": "revised", "days": 50 + n, "reason": "infection"}
    report = compare(desk_of(tmp_path, rows, Policy(withhold_counts_under=5)), "bearing", robust="hospital")
    assert report.clusters is None
    assert "limits by the scatter of fewer than 5 hospitals" in report.model


def test_order_of_rows_does_not_matter(tmp_path: Path, drawn: list[Row]) -> None:
    """The drawn rows name their patients, so that turning the order round moves nothing but numbers."""
    reports = [
        compare(desk_of(tmp_path / name, rows), "class", "sex", windows=(1,), robust="patient")
        for name, rows in (("one", drawn), ("other", drawn[::-1]))
    ]
    for one, other in zip(*(report.rows for report in reports), strict=True):
        assert (one.lower, one.upper) == (pytest.approx(other.lower, rel=1e-9), pytest.approx(other.upper, rel=1e-9))
    assert [first.clusters == second.clusters for first, second in pairwise(reports)] == [True]
