"""The views: their headers say what they do, and they give the numbers of the program."""

import math
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import duckdb
import pytest

from regdash import grouping
from regdash.reports.desk import Desk
from regdash.store.cuts import Cut
from regdash.store.sqlfiles import SqlFile, views_in_order
from tests.cuts import joint, make_cut, random_joints
from tests.reports.desks import EVERYTHING, SHOW_ALL, asked

CLASSES = grouping.parse("class")
EXPECTED = {
    "cumulative_incidence",
    "hospital_profile",
    "implant_use",
    "net_risk",
    "outlier_implants",
    "revision_causes",
    "revision_chain",
    "surgeon_volume",
}


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_cut(tmp_path_factory.mktemp("store"), random_joints(1500, seed=41))


@pytest.fixture(scope="module")
def cut(store: Path) -> Cut:
    return Cut(store)


@pytest.fixture(scope="module")
def desk(store: Path) -> Desk:
    return Desk(store, policy=SHOW_ALL)


def read(cut: Cut, sql: str) -> list[dict[str, Any]]:
    """Read a view as an analyst does."""
    return cut.frame(sql).to_dicts()


def test_the_views_are_there() -> None:
    assert {view.name for view in views_in_order()} >= EXPECTED


@pytest.mark.parametrize("view", views_in_order(), ids=lambda view: view.name)
def test_a_header_says_what_its_view_does(view: SqlFile, cut: Cut) -> None:
    """Grain, columns with a description each, and source tables in the comment are those the database sees."""
    keys = ", ".join(view.listed("grain"))
    ((rows, distinct),) = cut.rows(f"select count(*), count(distinct ({keys})) from {view.name}")
    described = [(name, kind.lower()) for name, kind, *_ in cut.rows(f"describe {view.name}")]
    sources = duckdb.connect().get_table_names(view.query, qualified=True)
    assert rows == distinct > 0
    assert list(view.columns) == described
    assert {name.split(" AS ")[0] for name in sources} == set(view.listed("reads"))
    assert all(len(line.split()) >= 3 for line in view.fields["columns"].splitlines())


def test_net_risk_is_the_programs(cut: Cut, desk: Desk) -> None:
    report = desk.risk(EVERYTHING, CLASSES)
    for curve in report.curves:
        rows = read(cut, f"from net_risk where class = '{curve.group}' order by day")
        shown = {int(day): n for n, day in enumerate(curve.days)}
        for row in rows:
            place = shown[row["day"]]
            assert row["risk"] == pytest.approx(curve.estimate[place], abs=1e-12)
            assert row["lower"] == pytest.approx(curve.lower[place], abs=1e-12)
            assert row["upper"] == pytest.approx(curve.upper[place], abs=1e-12)
        last = [row for row in report.rows if row.group == curve.group][-1]
        assert sum(row["revised"] for row in rows if row["day"] <= 15 * 365.25) == last.revisions


def test_net_risk_has_no_limits_where_every_joint_is_revised(tmp_path: Path) -> None:
    rows = [joint(days=day, ended="revised", reason="infection") for day in (10, 20, 20)]
    found = read(Cut(make_cut(tmp_path, rows)), "select risk, lower, upper from net_risk order by day")
    assert found[0]["risk"] == pytest.approx(1 / 3)
    assert found[1] == {"risk": 1.0, "lower": None, "upper": None}


def test_cumulative_incidence_is_the_programs(cut: Cut, desk: Desk) -> None:
    any_revision = desk.risk(EVERYTHING, CLASSES, view="patient")
    reasons = desk.reasons(EVERYTHING, CLASSES, years=15)
    curves = {("any revision", curve.group): curve for curve in any_revision.curves}
    curves |= {(curve.group, group): curve for group, each in reasons.curves for curve in each}
    rows = read(cut, "from cumulative_incidence")
    assert len({(row["reason_group"], row["class"]) for row in rows}) > 20
    for row in rows:
        curve = curves[row["reason_group"], row["class"]]
        (place,) = (curve.days == row["day"]).nonzero()[0]
        assert row["incidence"] == pytest.approx(curve.estimate[place], abs=1e-12)


def test_cumulative_incidence_counts_are_the_programs(cut: Cut, desk: Desk) -> None:
    for row in desk.reasons(EVERYTHING, CLASSES, years=40).rows:
        where = f"class = '{row.group}' and reason_group = '{row.reason}'"
        ((revised,),) = cut.rows(f"select coalesce(max(revised_upto), 0) from cumulative_incidence where {where}")
        assert revised == row.revisions


def test_revision_causes_are_the_programs(cut: Cut, desk: Desk) -> None:
    details = {(row.group, row.reason): row for row in desk.reasons(EVERYTHING, CLASSES, detail=True).rows}
    groups = {(row.group, row.reason): row for row in desk.reasons(EVERYTHING, CLASSES).rows}
    rows = read(cut, "from revision_causes")
    for row in rows:
        ours = details[row["class"], row["reason"]]
        assert (row["revisions"], row["share"]) == (ours.revisions, pytest.approx(ours.share))
    for (class_, group), ours in groups.items():
        own = [row["revisions"] for row in rows if (row["class"], row["reason_group"]) == (class_, group)]
        assert sum(own) == ours.revisions


def test_implant_use_adds_up_to_the_list_of_implants(cut: Cut, desk: Desk) -> None:
    for ours in desk.implants(EVERYTHING).rows:
        where = f"implant = '{ours.code}' and class = '{ours.joint_class}' and role = '{ours.role}'"
        found = cut.rows(f"select sum(joints)::integer, min(year), max(year) from implant_use where {where}")
        assert found == [(ours.joints, int(ours.first_used[:4]), int(ours.last_used[:4]))]


def test_implant_use_counts_hospitals_and_surgeons_of_each_year(tmp_path: Path) -> None:
    rows = [
        joint(hospital_id="H001", surgeon_id="S0001"),
        joint(hospital_id="H002", surgeon_id="not recorded"),
        joint(hospital_id="H002", surgeon_id="S0002", implanted_date=date(2012, 5, 5)),
    ]
    found = Cut(make_cut(tmp_path, rows)).rows(
        "select year, joints, hospitals, surgeons from implant_use where implant = 'KF-001' order by year"
    )
    assert found == [(2010, 2, 2, 1), (2012, 1, 1, 1)]


def test_hospital_profile_is_the_programs(cut: Cut, desk: Desk) -> None:
    described = {row.group: row for row in desk.describe(EVERYTHING, grouping.parse("hospital")).rows}
    rates = {row.group: row for row in desk.rates(EVERYTHING, grouping.parse("hospital")).rows}
    rows = read(cut, "from hospital_profile")
    assert {row["hospital_id"] for row in rows} == set(described)
    for row in rows:
        ours, rate = described[row["hospital_id"]], rates[row["hospital_id"]]
        assert (row["primaries"], row["surgeons"], row["revisions"]) == (ours.joints, ours.surgeons, ours.revised)
        assert (row["first_date"].isoformat(), row["last_date"].isoformat()) == (ours.first_date, ours.last_date)
        assert row["mean_age"] == pytest.approx(ours.mean_age)
        assert row["per_100_implant_years"] == pytest.approx(rate.per_100_implant_years)
        partial = desk.describe(asked(desk, f"hospital={row['hospital_id']} class=partial")).head.joints
        assert row["partial_share"] == pytest.approx(partial / ours.joints)


def test_a_hospital_that_only_revises_others_joints_has_a_profile(tmp_path: Path) -> None:
    revised = joint(ended="revised", reason="infection", hospital_id="H001", episodes=[{"hospital_id": "H002"}])
    found = read(Cut(make_cut(tmp_path, [revised, joint()])), "from hospital_profile order by hospital_id")
    first, second = found
    assert (first["primaries"], first["revisions"], first["revisions_done"]) == (2, 1, 0)
    assert (second["hospital_id"], second["primaries"]) == ("H002", 0)
    assert (second["revisions_done"], second["of_other_hospitals"]) == (1, 1)
    assert second["per_100_implant_years"] is None


def test_surgeon_volume_by_hand(tmp_path: Path) -> None:
    rows = [
        joint(surgeon_volume=10),
        joint(surgeon_volume=None),
        joint(class_="partial"),
        joint(surgeon_id="not recorded"),
    ]
    found = read(Cut(make_cut(tmp_path, rows)), "from surgeon_volume order by class desc")
    assert [(row["class"], row["primaries"], row["mean_volume"]) for row in found] == [
        ("total", 2, 10.0),
        ("partial", 1, 20.0),
    ]
    assert [row["share_of_joint"] for row in found] == pytest.approx([2 / 3, 1 / 3])


def test_a_chain_of_revisions_by_hand(tmp_path: Path) -> None:
    episodes = [
        {"day": 100, "reason_group": "infection", "action": "removal with spacer"},
        {"day": 250, "reason_group": "loosening", "action": "all components exchanged"},
    ]
    rows = [joint(days=100, ended="revised", reason="infection", episodes=episodes)]
    first, second = read(Cut(make_cut(tmp_path, rows)), "from revision_chain order by sequence")
    assert (first["days_since_previous"], first["days_to_next"], first["next_reason_group"]) == (100, 150, "loosening")
    assert (second["days_since_previous"], second["previous_action"]) == (150, "removal with spacer")
    assert (second["days_to_next"], second["next_reason_group"]) == (None, None)
    assert second["revision_date"] == date(2010, 1, 4) + timedelta(days=250)


def test_shares_of_causes_add_up_to_one_in_each_class(cut: Cut) -> None:
    for _, share in cut.rows("select class, sum(share) from revision_causes group by class"):
        assert math.isclose(share, 1)
