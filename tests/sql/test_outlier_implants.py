"""The view of implants beside all others: the first step of the program's screen, at the thresholds it ships."""

from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import pytest
from scipy.stats import binom, false_discovery_control

from regdash.signals.desk import SignalsDesk
from regdash.signals.settings import read_settings
from regdash.store.cuts import Cut, cut_path
from regdash.vocabulary import CLASSES
from tests.cuts import NAME, THROUGH, Row, component, components_of, joint, make_cut, random_joints
from tests.reports.desks import EVERYTHING, SHOW_ALL

SHARED = ("implant_years", "expected", "per_100_implant_years", "rate_ratio", "rate_p")
STATED = read_settings().stated_ratio


def withdraw(store: Path, implant: str, *days: date | None) -> None:
    """Write entries of an implant into the catalogue of a cut, each withdrawn on a day or not at all."""
    with duckdb.connect(str(cut_path(store, NAME))) as connection:
        connection.executemany(
            "insert into catalogue by name (select $size as catalogue_no, '' as gtin, 'M01' as maker, "
            "$implant as implant, 'femoral' as role, 'knee' as joint, $size as size, $day::date as withdrawn_date, "
            "'2002-01-01'::date as known_from)",
            [{"implant": implant, "size": str(size), "day": day} for size, day in enumerate(days)],
        )


def two_in_one_role() -> list[Row]:
    """Knees with two stems each, some of them of one implant."""
    pairs = [("KS-001", "KS-002"), ("KS-001", "KS-001"), ("KS-002", "KS-003"), ("KS-003", "KS-001")]
    return [
        joint(
            days=20 * n + 10,
            components=[
                *components_of("KF-001/KT-001"),
                *(component("stem", code) for code in pairs[n % 4]),
                component("cement", "KX-001"),
            ],
            **({"ended": "revised", "reason": "infection"} if n % 3 == 0 else {}),
        )
        for n in range(120)
    ]


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    rows = [*random_joints(1500, seed=43, joints=("knee", "hip", "shoulder")), *two_in_one_role()]
    store = make_cut(tmp_path_factory.mktemp("store"), rows)
    withdraw(store, "KF-002", date(2010, 1, 1), THROUGH)
    withdraw(store, "KF-003", date(2010, 1, 1), None)
    withdraw(store, "HS-002", date(2025, 1, 1))
    withdraw(store, "KS-003", THROUGH)
    return store


@pytest.fixture(scope="module")
def view(store: Path) -> list[dict[str, Any]]:
    return Cut(store).frame("from outlier_implants").to_dicts()


def test_every_shared_column_is_the_programs(store: Path, view: list[dict[str, Any]]) -> None:
    report = SignalsDesk(store, policy=SHOW_ALL).screen("implants", EVERYTHING)
    keys = ("implant", "role", "class", "joint", "time_window")
    rows = {tuple(row[key] for key in keys): row for row in view}
    assert len(report.rows) > 100
    assert report.apart == ("KF-002", "KS-003")
    for ours in report.rows:
        row = rows[ours.code, ours.role, *ours.joint_class.split(), ours.window]
        assert (row["joints"], row["revisions"]) == (ours.joints, ours.revisions)
        for name in SHARED:
            assert row[name] == pytest.approx(getattr(ours, name), rel=1e-9), (ours.code, ours.window, name)
        assert row["tested"] == (ours.p is not None)
        assert row["withdrawn"] == (ours.code in report.apart)
    assert sum(row["tested"] for row in view) == report.tests
    told = [row for row in view if row["time_window"] == "all" and row["joints"] >= read_settings().minimum_joints]
    assert len(told) == sum(row.window == "all" for row in report.rows)


@pytest.mark.parametrize("which", CLASSES)
def test_q_is_scipys_over_all_of_a_joint_that_is_tested(view: list[dict[str, Any]], which: str) -> None:
    tested = [row for row in view if row["tested"] and row["joint"] == which]
    expected = false_discovery_control([row["rate_p"] for row in tested], method="bh")
    assert [row["rate_q"] for row in tested] == pytest.approx(expected, rel=1e-9)
    assert {row["rate_q"] for row in view if not row["tested"]} == {None}


def test_its_thresholds_are_those_that_the_program_ships(tmp_path: Path) -> None:
    """9 joints are not tested and 10 are; the windows and the stated ratio show in the rows of the tests above."""
    shipped = read_settings()
    few, enough = shipped.minimum_joints - 1, shipped.minimum_joints
    rows = [joint(construct="KF-001/KT-001", days=400, ended="revised", reason="infection")] * 200
    rows += [joint(construct="KF-002/KT-002", days=400)] * few + [joint(construct="KF-003/KT-003", days=400)] * enough
    sql = "select implant, tested, expected from outlier_implants where role = 'femoral' and time_window = 'all'"
    found = {implant: (tested, expected) for implant, tested, expected in Cut(make_cut(tmp_path, rows)).rows(sql)}
    assert {implant: tested for implant, (tested, _) in found.items()} == {
        "KF-001": False,  # no revision of others: none is expected
        "KF-002": False,
        "KF-003": True,
    }
    assert found["KF-003"][1] > shipped.minimum_expected == 1.0


CASES = [  # joints and revisions of the implant, of the others
    (40, 0, 400, 9),  # none at all: p is 1
    (40, 1, 400, 0),  # every revision is the implant's
    (40, 40, 400, 0),
    (300, 2, 300, 40),  # far below the others: p near 1
    (300, 20, 300, 20),
    (30, 29, 5000, 60),  # far above
    (2500, 600, 2500, 600),  # many terms
]


def test_the_exact_p_in_sql_is_scipys(tmp_path: Path) -> None:
    """Each case is a class of its own, so that it is compared with nothing else."""

    def joints(which: str, class_: str, count: int, revised: int, construct: str, days: int) -> list[Row]:
        ends = [{"ended": "revised", "reason": "infection"}] * revised + [{}] * (count - revised)
        parts = components_of(construct)
        return [joint(joint=which, class_=class_, components=parts, days=days, **end) for end in ends]

    places = [(which, class_) for which, classes in CLASSES.items() for class_ in classes]
    rows = []
    for place, (own, own_revised, others, others_revised) in zip(places, CASES):
        rows += joints(*place, own, own_revised, "KF-002/KT-002", 200)
        rows += joints(*place, others, others_revised, "KF-001/KT-001", 300)
    sql = "from outlier_implants where implant = 'KF-002' and time_window = 'all'"
    found = Cut(make_cut(tmp_path, rows)).frame(sql).to_dicts()
    p = {(row["joint"], row["class"]): row["rate_p"] for row in found}
    assert len(p) == len(CASES)
    for place, (own, own_revised, others, others_revised) in zip(places, CASES):
        part = STATED * own * 200 / (STATED * own * 200 + others * 300)
        exact = binom.sf(own_revised - 1, own_revised + others_revised, part)
        assert p[place] == pytest.approx(exact, rel=1e-9)


def test_an_implant_alone_in_its_class_has_no_p(tmp_path: Path) -> None:
    cut = Cut(make_cut(tmp_path, [joint(days=100, ended="revised", reason="infection")] * 3))
    found = cut.rows("select distinct rate_p, rate_ratio, expected, other_joints, rate_q from outlier_implants")
    assert found == [(None, None, None, 0, None)]
