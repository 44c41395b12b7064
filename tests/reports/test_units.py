"""Hospitals and surgeons: against published curves, against the views, against the risk of the same filter."""

from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from regdash.errors import FilterError
from regdash.reports.desk import Desk
from regdash.reports.policy import Policy
from regdash.store.cuts import Cut
from tests.cuts import THROUGH, Row, hip, joint, make_cut, random_joints
from tests.reports.desks import EVERYTHING, SHOW_ALL, asked, desk_of, reference, years_of

CELLS = {"squamous": "H001", "smallcell": "H002", "adeno": "H003", "large": "H004"}


def lung() -> list[Row]:
    """Lung cancer by cell type, each as a hospital (source: tests/reference/README.md); death stands for revision."""
    return [
        joint(
            hospital_id=CELLS[row["celltype"]],
            days=int(row["time"]),
            ended="revised" if row["status"] == "1" else "in place",
            reason="infection" if row["status"] == "1" else None,
        )
        for row in reference("data_veteran")
    ]


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    knees = random_joints(900, seed=21)
    return make_cut(tmp_path_factory.mktemp("units"), [*knees, *(hip(hospital_id="H001", days=400),) * 30])


@pytest.fixture(scope="module")
def desk(store: Path) -> Desk:
    return Desk(store, policy=SHOW_ALL)


def test_each_hospital_has_the_risk_that_r_gives_its_group(tmp_path: Path) -> None:
    """R's survfit by group with log-log limits, at day 100 (tests/reference/km_veteran_celltype.csv)."""
    rows = desk_of(tmp_path, lung()).profiles("hospitals", EVERYTHING, years_of(100)).rows
    assert [row.group for row in rows] == ["H001", "H002", "H003", "H004"]
    for cell, row in zip(CELLS, rows):
        printed = [r for r in reference("km_veteran_celltype") if r["group"] == cell and float(r["time"]) <= 100][-1]
        assert row.estimate == pytest.approx(1 - float(printed["surv"]), abs=1e-12)
        assert row.lower == pytest.approx(1 - float(printed["upper"]), abs=1e-9)
        assert row.upper == pytest.approx(1 - float(printed["lower"]), abs=1e-9)


def test_counts_are_those_of_the_view_on_hospitals(desk: Desk, store: Path) -> None:
    """sql/views/hospital_profile.sql counts them in a statement of its own."""
    report = desk.profiles("hospitals", asked(desk, "joint=knee"))
    names = "hospital_id, primaries, revisions, implant_years, partial_share, first_date::varchar, last_date::varchar"
    with closing(Cut(store)) as cut:
        seen = cut.rows(f"select {names} from hospital_profile where joint = 'knee' and primaries > 0 order by 1")
    assert len(seen) > 3
    for (code, joints, revisions, years, share, first, last), row in zip(seen, report.rows, strict=True):
        assert (code, joints, revisions, first, last) == (
            *(row.group, row.joints, row.revisions),
            *(row.first_date, row.last_date),
        )
        assert (row.implant_years, row.partial_share) == (pytest.approx(years), pytest.approx(share))


def test_a_surgeons_figures_are_those_of_the_same_filter(desk: Desk) -> None:
    for row in desk.profiles("surgeons", asked(desk, "joint=knee class=partial"), 5.0, "patient").rows[:3]:
        own = asked(desk, f"joint=knee class=partial surgeon={row.group}")
        (risk,) = desk.risk(own, (), (5.0,), "patient").rows
        (rate,) = desk.rates(own).rows
        (described,) = desk.describe(own).rows
        assert (row.at_risk, row.estimate, row.lower, row.upper) == (
            *(risk.at_risk, risk.estimate),
            *(risk.lower, risk.upper),
        )
        assert (row.per_100_implant_years, row.rate_upper) == (rate.per_100_implant_years, rate.upper)
        assert (row.joints, row.patients) == (described.joints, described.patients)
        assert 0 < row.partial_share < 1  # of all knees of the surgeon, whatever class the filter names


def test_volume_is_of_the_last_365_days_the_last_one_included(tmp_path: Path) -> None:
    days = [joint(implanted_date=THROUGH - timedelta(days=ago), days=0) for ago in (0, 364, 365)]
    (row,) = desk_of(tmp_path, days).profiles("hospitals", EVERYTHING).rows
    assert row.joints_last_365_days == 2


def test_joints_are_kept_apart(desk: Desk) -> None:
    report = desk.profiles("hospitals", EVERYTHING)
    labels = [row.group for row in report.rows]
    assert "hip, H001" in labels
    assert "knee, H001" in labels
    (hips,) = [row for row in report.rows if row.group.startswith("hip")]
    assert hips.partial_share is None
    assert report.head.cautions[0].startswith("Joints are not mixed")


def test_one_unit_beside_all_others_adds_up_to_all(desk: Desk) -> None:
    report = desk.unit_risk("hospitals", "h002", asked(desk, "joint=knee"), (1.0, 5.0))
    own, others = report.groups
    assert (own.label, others.label) == ("H002", "all others")
    by_filter = [desk.risk(asked(desk, " ".join(group.words)), (), (1.0, 5.0)).rows for group in report.groups]
    found = [(row.at_risk, row.revisions, row.estimate, row.lower) for row in report.rows]
    assert found == [(row.at_risk, row.revisions, row.estimate, row.lower) for rows in by_filter for row in rows]
    with pytest.raises(FilterError, match="There is no code H9 among the hospitals"):
        desk.unit_risk("hospitals", "H9", EVERYTHING)
    with pytest.raises(FilterError, match="No joint that is asked about"):
        desk.unit_risk("hospitals", "H002", asked(desk, "joint=hip"))


def test_each_joint_of_a_unit_stands_beside_the_same_joint_elsewhere(desk: Desk) -> None:
    labels = [group.label for group in desk.unit_risk("hospitals", "H001", EVERYTHING, (1.0,)).groups]
    assert labels == ["knee, H001", "knee, all others", "hip, H001"]


def test_small_counts_and_what_gives_them_away_are_withheld(tmp_path: Path) -> None:
    rows = [joint(hospital_id="H001")] * 60 + [joint(hospital_id="H002", surgeon_id="S0002")] * 3
    large, small = desk_of(tmp_path, rows, Policy(withhold_counts_under=5)).profiles("hospitals", EVERYTHING, 1.0).rows
    assert (large.joints, large.estimate) == (60, 0)
    told = (small.joints, small.patients, small.implant_years, small.estimate, small.joints_last_365_days)
    assert told == (None,) * 5
    assert (small.first_date, small.partial_share) == (None, None)
    assert "withheld" in small.withheld
    assert "withheld" in small.rate_withheld


def test_a_figure_is_no_finding_and_the_answer_says_so(desk: Desk) -> None:
    report = desk.profiles("surgeons", asked(desk, "joint=knee"))
    assert report.head.cautions[0].startswith("This is no finding about a hospital or a person")
    codes = [row.group for row in report.rows if row.group != "not recorded"]
    assert codes == sorted(codes)
