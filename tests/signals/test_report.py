"""The report of a screen on a data cut: R's figures, who is compared with whom, and what is withheld."""

from dataclasses import replace
from pathlib import Path

import duckdb
import pytest

from regdash import cohort as filters
from regdash import grouping
from regdash.errors import FilterError
from regdash.reports.policy import Policy
from regdash.signals.desk import SignalsDesk
from regdash.signals.model import LABELS, TOO_FEW, ScreenReport, ScreenRow
from regdash.signals.settings import read_settings
from regdash.store.cuts import cut_path
from tests.cuts import NAME, Row, component, components_of, hip, joint, make_cut, random_joints
from tests.stats.cases import rows_of

SHOW_ALL = Policy(minimum_at_risk=1, minimum_events=1)
EVERYTHING = filters.Cohort()


def only(report: ScreenReport, code: str, window: str = "all") -> ScreenRow:
    (row,) = [row for row in report.rows if (row.code, row.window) == (code, window)]
    return row


def flchain() -> list[Row]:
    """Each person a joint whose femoral implant is the group, and whose death is the revision."""
    return [
        joint(
            construct=f"KF-{int(row['flc.grp']):03}/KT-001",
            sex="female" if row["sex"] == "F" else "male",
            age=int(row["age"]),
            days=int(row["futime"]),
            **({"ended": "revised", "reason": "infection"} if row["death"] == "1" else {}),
        )
        for row in rows_of("data_flchain")
    ]


@pytest.fixture(scope="module")
def flchain_desk(tmp_path_factory: pytest.TempPathFactory) -> SignalsDesk:
    return SignalsDesk(make_cut(tmp_path_factory.mktemp("store"), flchain()), policy=SHOW_ALL)


@pytest.mark.parametrize("kind", ["implants", "constructs", "sizes"])
def test_every_ratio_is_that_of_r(flchain_desk: SignalsDesk, kind: str) -> None:
    """R: coxph(Surv(stop, death) ~ x + strata(band, sex)) and poisson.test against 1.25, in tests/reference."""
    report = flchain_desk.screen(kind, EVERYTHING)
    after = {"implants": "", "constructs": "/KT-001", "sizes": " size 5"}[kind]
    printed = rows_of("screen_flchain")
    # KT-001 is in every joint: nobody is left to compare it with.
    alone = [(row.signal, row.withheld) for row in report.rows if row.role == "tibial"]
    assert alone == ([] if kind == "constructs" else [(TOO_FEW, "not tested: nobody to compare with")])
    assert len([row for row in report.rows if row.role != "tibial"]) == report.tests == len(printed)
    for row in printed:
        found = only(report, f"KF-{int(row['group']):03}{after}", row["window"])
        assert (found.joints, found.revisions) == (int(row["joints"]), int(row["events"]))
        figures = (found.hazard_ratio, found.lower, found.upper, found.rate_ratio, found.rate_p)
        names = ("hr", "lower", "upper", "rate_ratio", "rate_p")
        assert figures == pytest.approx([float(row[name]) for name in names], rel=1e-7)
        assert found.revisions == pytest.approx(found.rate_ratio * found.expected)  # type: ignore[operator]
        assert found.withheld is None
    assert {row.code[:6] for row in report.rows if row.signal == "look closer"} == {"KF-010"}


def test_the_head_names_settings_windows_strata_and_the_caution(flchain_desk: SignalsDesk) -> None:
    report = flchain_desk.screen("implants", EVERYTHING)
    assert report.settings == read_settings()
    assert "in all of follow-up and windows that end at 1 and 5 years" in report.head.method
    assert "stratified by age and sex" in report.head.method
    said = " ".join(report.head.cautions)
    assert "A signal starts a review and shows no cause" in said
    assert f"40 tests made; of {report.signals} signals at most {report.expected_false:.2g} are expected" in said
    assert report.expected_false == pytest.approx(0.05 * report.signals)


def test_strata_and_windows_are_the_analysts_where_given(flchain_desk: SignalsDesk) -> None:
    crude = flchain_desk.screen("implants", EVERYTHING, adjust=(), windows=())
    assert {row.window for row in crude.rows} == {"all"}
    assert "without strata" in crude.head.method
    more = flchain_desk.screen("implants", EVERYTHING, adjust=grouping.parse("age,sex,class,asa"), windows=(2,))
    assert [g.field.key for g in more.adjust] == ["age", "sex", "asa"]  # a screen runs inside each class anyway
    # Everybody's ASA class is the same, so that it changes nothing.
    plain = flchain_desk.screen("implants", EVERYTHING, windows=(2,))
    ratio = only(plain, "KF-010", "0..2").hazard_ratio
    assert only(more, "KF-010", "0..2").hazard_ratio == pytest.approx(ratio, rel=1e-9)
    women = flchain_desk.screen("implants", filters.parse("sex=female"))
    assert only(women, "KF-001").joints == sum(r["sex"] == "F" and r["flc.grp"] == "1" for r in rows_of("data_flchain"))


def test_an_outcome_word_and_an_unknown_kind_are_refused(flchain_desk: SignalsDesk) -> None:
    with pytest.raises(FilterError, match="reason"):
        flchain_desk.screen("implants", filters.parse("reason=infection", outcomes=True))
    with pytest.raises(FilterError, match="There is no screen of surgeon"):
        flchain_desk.screen("surgeon", EVERYTHING)


def poor_and_others() -> list[Row]:
    """Six implants; KF-001 and KF-002 are revised ten and five times as often as the four others."""
    rows = []
    for number in range(1, 7):
        revised = {1: 60, 2: 30}.get(number, 6)
        for place in range(200):
            ended = {"ended": "revised", "reason": "infection"} if place < revised else {}
            rows.append(joint(construct=f"KF-{number:03}/KT-001", days=900 + place, **ended))
    return rows


def test_withdrawn_and_confirmed_implants_are_tested_and_in_nobodys_comparison(tmp_path: Path) -> None:
    store = make_cut(tmp_path, poor_and_others())
    with duckdb.connect(str(cut_path(store, NAME))) as connection:  # as a freeze would have copied the catalogue
        entries = [("KF-001", "2020-05-01"), ("KF-002", None), ("KF-003", "2025-06-01")]
        for implant, withdrawn in entries:
            connection.execute(
                "insert into catalogue by name select $code || '-5' as catalogue_no, '' as gtin, 'M01' as maker, "
                "$code as implant, 'femoral' as role, 'knee' as joint, '5' as size, $day::date as withdrawn_date, "
                "date '2010-01-01' as known_from",
                {"code": implant, "day": withdrawn},
            )
    plain = replace(read_settings(), leave_out_withdrawn=False)
    everybody = SignalsDesk(store, policy=SHOW_ALL, settings=plain).screen("implants", EVERYTHING)
    assert everybody.apart == ()
    confirmed = replace(read_settings(), confirmed=("KF-002", "KF-999"))
    report = SignalsDesk(store, policy=SHOW_ALL, settings=confirmed).screen("implants", EVERYTHING)
    assert (report.apart, report.joints_apart) == (("KF-001", "KF-002"), 400)
    said = " ".join(report.head.cautions)
    assert "400 joints with 1 withdrawn and 1 confirmed implants are in nobody's comparison group" in said
    assert "The settings call KF-999 confirmed, and this data cut has no such implant." in said
    # Four others with 24 revisions in 800 joints of equal follow-up, or three with 18 in 600 for one of them.
    assert only(report, "KF-001").expected == pytest.approx(6.0, rel=1e-6)
    assert only(report, "KF-003").expected == pytest.approx(6.0, rel=1e-6)
    assert only(everybody, "KF-003").expected == pytest.approx((60 + 30 + 18) / 5, rel=1e-6)
    assert only(everybody, "KF-001").signal == only(report, "KF-001").signal == "look closer"
    assert (only(everybody, "KF-003").hazard_ratio or 0) < 0.5 < (only(report, "KF-003").hazard_ratio or 0)


def test_joints_are_never_mixed_and_classes_carry_their_joint(tmp_path: Path) -> None:
    rows = [*random_joints(400, seed=3), *(hip(construct=f"HS-00{n % 3}/HC-001", days=100 + n) for n in range(60))]
    report = SignalsDesk(make_cut(tmp_path, rows)).screen("constructs", EVERYTHING)
    classes = {row.joint_class for row in report.rows}
    assert {"total knee", "total hip"} <= classes
    assert not {"total", "partial"} & classes
    assert report.head.cautions[0].startswith("Joints are not mixed")
    knees = SignalsDesk(tmp_path).screen("constructs", filters.parse("joint=knee"))
    assert {row.joint_class for row in knees.rows} <= {"total", "partial", "patellofemoral"}


def test_lots_and_sizes_that_are_not_recorded_are_no_units(tmp_path: Path) -> None:
    def lots(number: int) -> list[Row]:
        femoral = component("femoral", "KF-001", lot=("LA", "LB", "")[number % 3], size=str(3 + number % 2))
        return [femoral, *components_of("KT-001", ("tibial",), lot="")]

    rows = [joint(components=lots(n), days=500 + n) for n in range(90)]
    rows += [joint(components=lots(0), days=300, ended="revised", reason="infection") for _ in range(20)]
    desk = SignalsDesk(make_cut(tmp_path, rows), policy=SHOW_ALL)
    report = desk.screen("lots", EVERYTHING)
    assert {row.code: row.joints for row in report.rows if row.window == "all"} == {
        "KF-001 lot LA": 50,
        "KF-001 lot LB": 30,
    }
    assert only(report, "KF-001 lot LA").rate_p is not None
    sizes = {row.code: row.joints for row in desk.screen("sizes", EVERYTHING).rows if row.window == "all"}
    assert sizes["KF-001 size 3"] == 65
    assert sizes["KF-001 size 4"] == 45


def test_small_counts_are_withheld_with_all_that_gives_them_away(tmp_path: Path) -> None:
    store = make_cut(tmp_path, random_joints(900, seed=8))
    report = SignalsDesk(store, withhold_counts_under=20).screen("implants", EVERYTHING)
    hidden = [row for row in report.rows if row.revisions is None]
    assert hidden
    for row in hidden:
        figures = (row.expected, row.rate_ratio, row.rate_p, row.hazard_ratio, row.p, row.q, row.probability)
        assert figures == (None,) * 7
        assert row.withheld == "counts of 1 to 19 are withheld"
    shown = SignalsDesk(store).screen("implants", EVERYTHING)
    few = [row for row in shown.rows if row.revisions in range(1, 5) and row.p is not None]
    assert few
    assert all(row.hazard_ratio is None and row.withheld for row in few)  # the exact p stays
    assert {row.signal for row in shown.rows} <= set(LABELS)


def test_a_cohort_without_joints_or_revisions_has_an_answer_without_tests(tmp_path: Path) -> None:
    desk = SignalsDesk(make_cut(tmp_path, [joint(construct=f"KF-{n % 2:03}/KT-001") for n in range(60)]))
    none = desk.screen("implants", filters.parse("age=..20"))
    assert (none.rows, none.tests, none.signals) == ((), 0, 0)
    assert any(said == "Nothing was tested." for said in none.head.cautions)
    unrevised = desk.screen("implants", EVERYTHING)
    assert {row.code: row.signal for row in unrevised.rows} == dict.fromkeys(("KF-000", "KF-001", "KT-001"), TOO_FEW)
