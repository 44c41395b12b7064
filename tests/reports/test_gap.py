"""The gap between two groups: worked out by hand, and equal to the risks that its parts are made of."""

from math import sqrt
from pathlib import Path

import pytest

from regdash import grouping
from regdash.errors import FilterError
from regdash.reports.desk import Desk
from regdash.reports.model import GapReport, GapRow
from regdash.reports.policy import Policy
from regdash.vocabulary import coded
from tests.cuts import Row, joint, random_joints
from tests.reports.desks import EVERYTHING, SHOW_ALL, asked, desk_of

BY_CLASS = grouping.parse("class")
Z = 1.959963984540054


def wards(infections: int, wears: int, joints: int, **more: str) -> list[Row]:
    """Joints of which some are revised for infection on day 1, some for wear on day 2; the rest are seen for years."""
    rows = [joint(days=1, ended="revised", reason="infection", **more)] * infections
    rows += [joint(days=2, ended="revised", reason="wear, bearing surface", **more)] * wears
    return rows + [joint(days=4000, **more)] * (joints - infections - wears)


def part(report: GapReport, reason: str) -> GapRow:
    return next(row for row in report.rows if row.reason == reason)


def test_a_gap_by_hand(tmp_path: Path) -> None:
    """
    Of 1,000 partial knees 30 are revised for infection and 60 for wear, of 2,000 total ones 20 and 20; nobody leaves
    before. Risks are plain proportions p, their variance p (1 - p) / n: 9 % against 2 %, of which infection makes
    3 - 1 = 2 points and wear 6 - 1 = 5, shares 2/7 and 5/7.
    """
    rows = wards(30, 60, 1000, class_="partial") + wards(20, 20, 2000)
    late = [joint(days=3000, ended="revised", reason="instability")]  # no part of either risk by then
    report = desk_of(tmp_path, rows[:-1] + late).gap(EVERYTHING, BY_CLASS, years=5)
    assert [group.label for group in report.groups] == ["partial", "total"]
    assert [row.reason for row in report.rows] == ["wear", "infection", "all reasons"]
    wear, infection, whole = report.rows
    assert (wear.group_a, wear.group_b) == (pytest.approx(0.06), pytest.approx(0.01))
    assert (infection.difference, wear.difference) == (pytest.approx(0.02), pytest.approx(0.05))
    assert (whole.group_a, whole.group_b, whole.difference) == tuple(map(pytest.approx, (0.09, 0.02, 0.07)))
    assert (infection.share, wear.share, whole.share) == (pytest.approx(2 / 7), pytest.approx(5 / 7), 1)
    for row, p, q in ((wear, 0.06, 0.01), (infection, 0.03, 0.01), (whole, 0.09, 0.02)):
        reach = Z * sqrt(p * (1 - p) / 1000 + q * (1 - q) / 2000)
        assert (row.lower, row.upper) == tuple(map(pytest.approx, (p - q - reach, p - q + reach)))


def test_limits_of_a_share_by_hand(tmp_path: Path) -> None:
    """
    Fieller: the shares s at which (D1 - s D)² = z² var(D1 - s D). Of multinomial counts the variance of a part is
    p (1 - p) / n, and the covariance of two parts - p q / n, added over both groups; the whole is their sum.
    """
    rows = wards(30, 60, 1000, class_="partial") + wards(20, 20, 2000)
    report = desk_of(tmp_path, rows).gap(EVERYTHING, BY_CLASS, years=5)
    one = 0.03 * 0.97 / 1000 + 0.01 * 0.99 / 2000
    other = 0.06 * 0.94 / 1000 + 0.01 * 0.99 / 2000
    both = -0.03 * 0.06 / 1000 - 0.01 * 0.01 / 2000
    whole = one + other + 2 * both
    share = next(share for share in report.shares if share.reason == "infection")
    for s in (share.lower, share.upper):
        assert s is not None
        variance = one - 2 * s * (one + both) + s**2 * whole
        assert (0.02 - s * 0.07) ** 2 == pytest.approx(Z**2 * variance, rel=1e-9)
    assert share.lower < share.share < share.upper


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> Desk:
    return desk_of(tmp_path_factory.mktemp("store"), random_joints(2500, seed=31))


@pytest.mark.parametrize("view", ["implant", "patient"])
@pytest.mark.parametrize("detail", [False, True])
def test_parts_add_up_to_the_gap_and_shares_to_one(drawn: Desk, view: str, detail: bool) -> None:
    report = drawn.gap(EVERYTHING, BY_CLASS, years=10, view=view, detail=detail)
    *parts, whole = report.rows
    assert whole.reason == "all reasons"
    for name in ("group_a", "group_b", "difference"):
        assert sum(getattr(row, name) for row in parts) == pytest.approx(getattr(whole, name), abs=1e-12)
    assert sum(row.share for row in parts) == pytest.approx(1, abs=1e-12)
    assert [abs(row.difference) for row in parts] == sorted((abs(row.difference) for row in parts), reverse=True)


def test_in_the_implant_view_the_whole_is_the_difference_of_net_risks(drawn: Desk) -> None:
    report = drawn.gap(EVERYTHING, BY_CLASS, years=10)
    risks = {row.group: row.estimate for row in drawn.risk(EVERYTHING, BY_CLASS, [10]).rows}
    whole = report.rows[-1]
    assert (whole.group_a, whole.group_b) == tuple(map(pytest.approx, (risks["partial"], risks["total"])))


def test_in_the_patient_view_each_part_is_a_difference_of_incidences_with_death_competing(drawn: Desk) -> None:
    report = drawn.gap(EVERYTHING, BY_CLASS, years=10, view="patient")
    for row in report.rows[:-1]:
        if row.reason == "not recorded":
            continue
        risks = drawn.risk(EVERYTHING, BY_CLASS, [10], reason=coded(row.reason), difference=True)
        (found,) = risks.differences
        assert row.difference == pytest.approx(found.difference, abs=1e-12)
        assert (row.lower, row.upper) == tuple(map(pytest.approx, (found.lower, found.upper)))


def test_the_reference_is_taken_off_and_naming_it_turns_the_gap_round(drawn: Desk) -> None:
    usual, turned = drawn.gap(EVERYTHING, BY_CLASS), drawn.gap(EVERYTHING, BY_CLASS, reference="partial")
    assert [group.label for group in usual.groups] == ["partial", "total"]
    assert [group.label for group in turned.groups] == ["total", "partial"]
    assert turned.rows[-1].difference == pytest.approx(-usual.rows[-1].difference)
    assert part(turned, "loosening").share == pytest.approx(part(usual, "loosening").share)


def test_shares_are_withheld_where_the_gap_may_be_nothing_and_differences_stay(drawn: Desk) -> None:
    report = drawn.gap(asked(drawn, "class=total bearing=fixed"), grouping.parse("patella"), years=5)
    assert report.rows[-1].lower < 0 < report.rows[-1].upper
    for row in report.rows:
        assert row.difference is not None
        assert (row.share, row.withheld) == (
            None,
            "shares are withheld: the limits of the whole difference include 0",
        )
    assert report.shares == ()


def test_a_share_that_its_limits_cannot_enclose_is_withheld_alone(tmp_path: Path) -> None:
    """Two joints of the total knees are followed on, none had an infection: as many might have as make the gap."""
    rows = wards(60, 300, 1000, class_="partial") + wards(0, 4, 6) + [joint(days=3, ended="died")] * 194
    report = desk_of(tmp_path, rows).gap(EVERYTHING, BY_CLASS, years=5, reference="total")
    infection = part(report, "infection")
    assert infection.difference == pytest.approx(0.06)
    assert (infection.share, infection.withheld) == (
        None,
        "share: its limits have no end: one group has no revision for this reason, and too few joints at risk",
    )
    assert part(report, "wear").share == pytest.approx((0.3 - 0.02) / (0.36 - 0.02))
    assert [share.reason for share in report.shares] == ["wear"]


def test_all_is_withheld_where_too_few_of_either_group_are_left(tmp_path: Path) -> None:
    rows = wards(3, 5, 300) + wards(3, 3, 45, class_="partial")
    report = desk_of(tmp_path, rows, Policy()).gap(EVERYTHING, BY_CLASS, years=5)
    assert [row.reason for row in report.rows] == ["infection", "wear", "all reasons"]
    assert {row.withheld for row in report.rows} == {"partial: fewer than 40 joints at risk"}
    assert all(row.difference is None and row.group_a is None and row.share is None for row in report.rows)
    later = desk_of(tmp_path / "later", rows, SHOW_ALL).gap(EVERYTHING, BY_CLASS, years=15)
    assert {row.withheld for row in later.rows} == {"partial: not reached: the longest follow-up is 11.0 years"}


def test_a_small_reason_is_withheld_with_the_smallest_other_that_the_total_would_tell_it_by(tmp_path: Path) -> None:
    """Of partial knees 3 infections, 30 for wear, 12 for pain: without the last, the total would leave the 3."""
    pain = [joint(days=3, ended="revised", reason="pain, unexplained", class_="partial")] * 12
    rows = wards(3, 30, 1000, class_="partial") + pain + wards(20, 30, 2000)
    rows += [joint(days=3, ended="revised", reason="pain, unexplained")] * 40
    report = desk_of(tmp_path, rows, Policy(withhold_counts_under=10)).gap(EVERYTHING, BY_CLASS, years=5)
    withheld = {row.reason: row.withheld for row in report.rows if row.group_a is None}
    assert withheld == {
        "infection": "counts of 1 to 9 are withheld",
        "pain": "withheld beside a small count, which would follow from the total",
    }
    assert [row.reason for row in report.rows] == ["wear", "infection", "pain", "all reasons"]
    assert report.rows[-1].difference is not None
    assert {share.reason for share in report.shares} <= {"wear"}


def test_joints_whose_group_is_not_recorded_are_left_out_and_counted(tmp_path: Path) -> None:
    rows = wards(9, 3, 100, bearing="fixed") + wards(3, 3, 90, bearing="mobile")
    rows += wards(1, 1, 7, bearing="not recorded")
    report = desk_of(tmp_path, rows).gap(EVERYTHING, grouping.parse("bearing"), years=5)
    assert [(left.field, left.joints) for left in report.left_out] == [("bearing", 7)]
    assert "7 of 197 joints are left out because a field is not recorded: 7 have no bearing." in report.head.cautions


@pytest.mark.parametrize(
    ("by", "said"),
    [
        ("bearing", "A gap is between two groups, but there are 3: fixed, mobile, one-piece. Filter so that two are"),
        ("joint", "A gap is between two groups, but there is one: knee"),
        ("", "A gap is between two groups. Group by a field, as in class"),
        ("age,sex", "there are 10: under 50, female; under 50, male; .* and 4 more"),
    ],
)
def test_another_number_of_groups_is_refused_and_the_groups_are_named(drawn: Desk, by: str, said: str) -> None:
    with pytest.raises(FilterError, match=said):
        drawn.gap(EVERYTHING, grouping.parse(by))


def test_an_unknown_view_is_refused(drawn: Desk) -> None:
    with pytest.raises(FilterError, match="There is no view surgeon"):
        drawn.gap(EVERYTHING, BY_CLASS, view="surgeon")
