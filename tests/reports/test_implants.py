"""Implants against all others of their class, and the page of one: by hand, against R and scipy."""

from pathlib import Path

import pytest
from scipy.stats import binomtest

from regdash.cohort import parse
from regdash.errors import FilterError
from regdash.reports.desk import Desk
from regdash.reports.model import ImplantRow
from regdash.reports.policy import Policy
from tests.cuts import Row, component, components_of, joint, random_joints
from tests.reports.desks import EVERYTHING, asked, desk_of, reference


def many(count: int, years: float, revised: int, **more: object) -> list[Row]:
    """Joints that share these implant-years evenly, the first of them revised at the end."""
    days = round(years * 365.25 / count)
    return [
        joint(days=days, **more, **({"ended": "revised", "reason": "infection"} if n < revised else {}))
        for n in range(count)
    ]


def only(rows: tuple[ImplantRow, ...], code: str) -> ImplantRow:
    (row,) = [row for row in rows if row.code == code]
    return row


def test_the_ratio_of_an_implant_to_all_others_equals_r(tmp_path: Path) -> None:
    """11 revisions in 800 years against 21 in 3,011: the example of R's poisson.test help page."""
    (printed,) = [row for row in reference("poisson_rate_ratio") if row["label"].startswith("R help page")]
    rows = many(400, 800, 11, construct="KF-002/KT-002") + many(500, 3011, 21)
    # Whole days make the years differ in the fifth digit; the ratio is compared at that precision.
    row = only(desk_of(tmp_path, rows, Policy()).implants(EVERYTHING).rows, "KF-002")
    assert (row.joints, row.revisions) == (400, 11)
    assert row.rate_ratio == pytest.approx(float(printed["ratio"]), rel=1e-3)
    assert row.ratio_lower == pytest.approx(float(printed["lower"]), rel=1e-3)
    assert row.ratio_upper == pytest.approx(float(printed["upper"]), rel=1e-3)
    assert row.p == pytest.approx(float(printed["p_greater"]), rel=5e-3)


@pytest.fixture(scope="module")
def random_rows() -> list[Row]:
    return random_joints(1500, seed=21)


@pytest.fixture(scope="module")
def random_desk(tmp_path_factory: pytest.TempPathFactory, random_rows: list[Row]) -> Desk:
    return desk_of(tmp_path_factory.mktemp("store"), random_rows, Policy())


def test_every_implant_equals_a_plain_count_and_scipys_exact_test(random_desk: Desk, random_rows: list[Row]) -> None:
    """Its own joints are left out of the others; a joint with the implant twice counts once."""
    report = random_desk.implants(EVERYTHING)
    for row in report.rows:
        of_class = [each for each in random_rows if each["class"] == row.joint_class]
        own = [each for each in of_class if any(line["implant"] == row.code for line in each["components"])]
        days, all_days = (sum(each["days"] for each in some) for some in (own, of_class))
        revised, all_revised = (sum(each["ended"] == "revised" for each in some) for some in (own, of_class))
        assert (row.joints, row.revisions) == (len(own), revised)
        assert row.implant_years == pytest.approx(days / 365.25)
        assert row.hospitals == len({each["hospital_id"] for each in own})
        assert row.expected == pytest.approx((all_revised - revised) / (all_days - days) * days)
        exact = binomtest(revised, all_revised, days / all_days, alternative="greater").pvalue
        assert row.p == pytest.approx(exact, rel=1e-9)
    assert {row.role for row in report.rows} == {"femoral", "tibial", "bearing insert", "stem"}


def test_how_many_are_expected_by_chance_counts_every_test(random_desk: Desk) -> None:
    report = random_desk.implants(EVERYTHING)
    assert report.tested == len(report.rows)
    assert report.expected_by_chance == pytest.approx(0.05 * report.tested)
    assert any(f"{report.tested} implants were tested" in caution for caution in report.head.cautions)


def test_rows_come_by_rising_p(random_desk: Desk) -> None:
    found = [row.p for row in random_desk.implants(EVERYTHING).rows]
    assert found == sorted(found)


def test_a_small_implant_has_a_test_and_no_rate(tmp_path: Path) -> None:
    """Five of six revised against none of 100: the exact test holds at any number, a rate of six joints does not."""
    rows = many(6, 12, 5, construct="KF-002/KT-002") + many(100, 900, 0)
    row = only(desk_of(tmp_path, rows, Policy()).implants(EVERYTHING).rows, "KF-002")
    assert (row.per_100_implant_years, row.lower, row.rate_ratio, row.ratio_lower) == (None, None, None, None)
    assert row.withheld == "fewer than 40 joints"
    assert row.p == pytest.approx(binomtest(5, 5, 12 / 912, alternative="greater").pvalue, rel=1e-2)


def test_an_implant_alone_in_its_class_is_not_tested(tmp_path: Path) -> None:
    report = desk_of(tmp_path, many(60, 300, 3)).implants(EVERYTHING)
    assert {(row.p, row.expected, row.rate_ratio) for row in report.rows} == {(None, None, None)}
    assert report.tested == 0


def test_a_component_the_catalogue_does_not_know_is_no_implant(tmp_path: Path) -> None:
    rows = [joint(), joint(components=[component("femoral", "not recorded")])]
    assert {row.code for row in desk_of(tmp_path, rows).implants(EVERYTHING).rows} == {"KF-001", "KT-001"}


# ---- the page of one implant -------------------------------------------------------------------


def test_the_page_sets_an_implant_beside_all_others_of_its_class(random_desk: Desk) -> None:
    report = random_desk.implant("kf-001")
    own, others = report.risk.groups
    assert (own.label, others.label) == ("KF-001", "all others")
    for group, words in zip(report.risk.groups, (own.words, others.words)):
        alone = random_desk.risk(parse(words, known=random_desk.known))
        beside = [row for row in report.risk.rows if row.group == group.label]
        assert [(r.at_risk, r.revisions, r.estimate, r.upper) for r in alone.rows] == [
            (r.at_risk, r.revisions, r.estimate, r.upper) for r in beside
        ]


def test_the_page_has_the_row_of_the_list(random_desk: Desk) -> None:
    listed = only(random_desk.implants(EVERYTHING).rows, "UT-001")
    assert random_desk.implant("UT-001").row == listed


def test_sizes_hospitals_surgeons_and_windows_add_up_to_the_implant(random_desk: Desk) -> None:
    report = random_desk.implant("KF-001")
    own_windows = [row for row in report.windows if row.group.startswith("KF-001, ")]
    for parts in (report.sizes, report.hospitals, report.surgeons):
        assert sum(row.joints for row in parts) == report.row.joints
    for parts in (report.sizes, report.hospitals, report.surgeons, own_windows):
        assert sum(row.revisions for row in parts) == report.row.revisions
        assert sum(row.implant_years for row in parts) == pytest.approx(report.row.implant_years)
    assert sum(row.revisions for row in report.reasons.rows if row.group == "KF-001") == report.row.revisions


def test_an_implant_used_in_two_classes_shows_the_larger_and_tells_of_the_other(tmp_path: Path) -> None:
    lines = [*components_of("KF-001/KT-001"), component("stem", "KS-001")]
    rows = [joint(components=lines)] * 3 + [joint(class_="partial", components=lines)]
    report = desk_of(tmp_path, rows).implant("KS-001")
    assert (report.row.joint_class, report.row.joints) == ("total", 3)
    assert any("1 as stem in partial knees" in caution for caution in report.head.cautions)


def test_a_page_may_be_asked_within_a_cohort(random_desk: Desk) -> None:
    women = random_desk.implant("KF-001", asked(random_desk, "sex=female"))
    listed = only(random_desk.implants(asked(random_desk, "sex=female")).rows, "KF-001")
    assert women.row == listed
    assert "sex=female" in women.risk.groups[0].words


def test_an_unknown_implant_is_refused_with_the_nearest(random_desk: Desk) -> None:
    with pytest.raises(FilterError, match=r"There is no implant KF-099 in data cut 2024-12-31\.1\. Nearest: KF-00"):
        random_desk.implant("KF-099")


def test_an_implant_that_the_cohort_never_used_is_told(random_desk: Desk) -> None:
    with pytest.raises(FilterError, match=r"No primary of class=partial used KF-001\. Widen the filter"):
        random_desk.implant("KF-001", asked(random_desk, "class=partial"))


def test_a_word_that_chose_the_implant_is_left_out_of_its_page(random_desk: Desk) -> None:
    page = random_desk.implant("KF-001", asked(random_desk, "implant=KF-001"))
    assert page.row == random_desk.implant("KF-001").row
    assert page.risk.groups == random_desk.implant("KF-001").risk.groups


def test_a_page_among_joints_with_another_component_is_refused(random_desk: Desk) -> None:
    with pytest.raises(FilterError, match="maker=M01 chooses joints by another component than KF-001"):
        random_desk.implant("KF-001", asked(random_desk, "maker=M01"))
