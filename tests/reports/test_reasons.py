"""Reasons: counts by hand, incidences against the plain sum, parts that add up."""

from pathlib import Path

import pytest

from regdash import grouping
from regdash.reports.desk import Desk
from regdash.reports.policy import Policy
from tests.cuts import joint, random_joints
from tests.reports.desks import EVERYTHING, desk_of


@pytest.fixture(scope="module")
def random_desk(tmp_path_factory: pytest.TempPathFactory) -> Desk:
    return desk_of(tmp_path_factory.mktemp("store"), random_joints(1500, seed=12))


def test_incidence_by_hand_with_death_competing(tmp_path: Path) -> None:
    """
    Of ten joints one is revised for infection on day 10 (1/10); three die on day 20; on day 30 two are
    revised, one for each reason, of six left: free before is 9/10 × 6/9 = 6/10, so 6/10 × 1/6 = 1/10 each.
    """
    rows = [joint(days=10, ended="revised", reason="infection")]
    rows += [joint(days=20, ended="died")] * 3
    rows += [joint(days=30, ended="revised", reason=r) for r in ("infection", "wear, bearing surface")]
    rows += [joint(days=5000)] * 4
    report = desk_of(tmp_path, rows).reasons(EVERYTHING, years=5)
    infection, wear = report.rows
    assert (infection.reason, infection.revisions, infection.share) == ("infection", 2, pytest.approx(2 / 3))
    assert infection.incidence == pytest.approx(0.2, abs=1e-12)
    assert (wear.reason, wear.revisions, wear.at_risk) == ("wear", 1, 4)
    assert wear.incidence == pytest.approx(0.1, abs=1e-12)
    assert report.head.view == "patient"


def test_reasons_come_by_falling_incidence_in_each_group(random_desk: Desk) -> None:
    report = random_desk.reasons(EVERYTHING, grouping.parse("class"), years=10)
    for group in report.groups:
        incidences = [row.incidence for row in report.rows if row.group == group.label]
        assert incidences == sorted(incidences, reverse=True)


def test_groups_list_the_same_reasons_so_that_they_can_be_compared(random_desk: Desk) -> None:
    report = random_desk.reasons(EVERYTHING, grouping.parse("bearing"))
    reasons = [{row.reason for row in report.rows if row.group == group.label} for group in report.groups]
    assert all(each == reasons[0] for each in reasons)


def test_shares_add_up_to_one_and_counts_to_the_revisions(random_desk: Desk) -> None:
    report = random_desk.reasons(EVERYTHING)
    assert sum(row.share for row in report.rows) == pytest.approx(1)
    assert sum(row.revisions for row in report.rows) == report.head.revisions


def test_details_add_up_to_their_groups(random_desk: Desk) -> None:
    groups = {row.reason: row.incidence for row in random_desk.reasons(EVERYTHING).rows}
    details = {row.reason: row.incidence for row in random_desk.reasons(EVERYTHING, detail=True).rows}
    loosening = [incidence for reason, incidence in details.items() if reason.startswith("loosening")]
    assert sum(loosening) == pytest.approx(groups["loosening"], abs=1e-12)
    assert len(loosening) > 1


def test_curves_stand_in_the_order_of_the_rows(random_desk: Desk) -> None:
    report = random_desk.reasons(EVERYTHING)
    ((label, curves),) = report.curves
    assert label == "all"
    assert [curve.group for curve in curves] == [row.reason for row in report.rows]


def test_incidence_is_withheld_where_too_few_are_left_and_the_counts_stay(tmp_path: Path) -> None:
    rows = [joint(days=4000)] * 30 + [joint(days=50, ended="revised", reason="stiffness")]
    (row,) = desk_of(tmp_path, rows, Policy()).reasons(EVERYTHING).rows
    assert (row.revisions, row.share, row.at_risk) == (1, 1.0, 30)
    assert (row.incidence, row.lower, row.upper) == (None, None, None)
    assert row.withheld == "fewer than 40 joints at risk"


def test_the_same_question_is_worked_out_once_and_still_names_its_statements(random_desk: Desk) -> None:
    random_desk.forget()
    random_desk.take_asked_sql()
    asked, told = [], []
    for years in (10, 10, 5):
        asked.append(random_desk.reasons(EVERYTHING, grouping.parse("class"), years=years))
        told.append(random_desk.take_asked_sql())
    assert asked[0] is asked[1]
    assert asked[0].years != asked[2].years
    assert told[0] == told[1] != ()
    random_desk.forget()
    assert random_desk.reasons(EVERYTHING, grouping.parse("class"), years=10) is not asked[0]
