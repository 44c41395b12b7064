"""The explanation of one implant: R's figures on open data, parts that add up, and what cannot be told refused."""

import csv
import random
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from numpy.testing import assert_allclose

from regdash import grouping
from regdash.cohort import Cohort
from regdash.errors import FilterError
from regdash.reports.policy import Policy
from regdash.signals.desk import SignalsDesk
from regdash.signals.explained_model import Explanation
from regdash.signals.settings import read_settings
from regdash.store.signal_reviews import EVERY, RestsOn, Unit, decide
from tests.cuts import Row, component, joint, make_cut, random_joints
from tests.reports.desks import EVERYTHING, REFERENCE, SHOW_ALL, asked, reference

LONG_AGO = date(2000, 1, 1)
IMPLANT = "KT-003"


def colon() -> list[Row]:
    """
    Three arms stand for tibial implants, more than four nodes for femoral ones, death for revision, and seven
    hospitals take turns.
    """
    tibial = {"Obs": "KT-001", "Lev": "KT-002", "Lev+5FU": IMPLANT}
    return [
        joint(
            construct=f"KF-00{row['node4']}/{tibial[row['rx']]}",
            sex="male" if row["sex"] == "1" else "female",
            age=int(row["age"]),
            hospital_id=f"H00{number % 7}",
            surgeon_id="S0001" if tibial[row["rx"]] == IMPLANT else "S0002",
            implanted_date=LONG_AGO,
            days=int(row["time"]),
            ended="revised" if row["status"] == "1" else "in place",
            reason=("infection", "pain, unexplained")[number % 2] if row["status"] == "1" else None,
            action="all components exchanged" if number % 3 else "bearing exchange only",
        )
        for number, row in enumerate(reference("data_colon_death"))
    ]


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> SignalsDesk:
    return SignalsDesk(make_cut(tmp_path_factory.mktemp("store"), colon()), policy=SHOW_ALL)


@pytest.fixture(scope="module")
def explained(desk: SignalsDesk) -> Explanation:
    return desk.explained(IMPLANT)


@pytest.fixture(scope="module")
def random_store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_cut(tmp_path_factory.mktemp("store"), random_joints(1500, seed=21))


@pytest.fixture(scope="module")
def random_desk(random_store: Path) -> SignalsDesk:
    return SignalsDesk(random_store, policy=SHOW_ALL)


def one(rows: tuple[Any, ...], **has: object) -> Any:
    (found,) = [row for row in rows if all(getattr(row, name) == value for name, value in has.items())]
    return found


def test_all_ratios_are_those_of_r(explained: Explanation) -> None:
    """coxph(Surv(time, death) ~ own + strata(band, sex, ...)) on R's colon data, to 1e-8 and so to 1e-6."""
    companion = {"0": "KF-000", "1": "KF-001"}
    window = {"-1": "0..1", "365": "1..5", "1826": "5.."}
    sex = {"0": "female", "1": "male"}
    found = {("whole", ""): explained.whole, ("alike", "companion"): one(explained.alike, alike="femoral")}
    found[("alike", "hospital")] = one(explained.alike, alike="hospital")
    found |= {("without", f"{n}"): one(explained.users, unit="hospital", user=f"H00{n}") for n in range(7)}
    found |= {("sex", n): one(explained.subgroups, field="sex", group=name) for n, name in sex.items()}
    found |= {("companion", n): one(explained.companions, companion=name) for n, name in companion.items()}
    found |= {("window", n): one(explained.windows, group=name) for n, name in window.items()}
    with open(REFERENCE / "explained_colon.csv", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == len(found) == 17
    for row in rows:
        ours = found[row["what"], row["level"]]
        names = [
            next(name for name in names if hasattr(ours, name))
            for names in (("hazard_ratio", "ratio_without"), ("ratio_lower", "lower"), ("ratio_upper", "upper"))
        ]
        figures = [getattr(ours, name) for name in names]
        assert_allclose(figures, [float(row[name]) for name in ("figure", "lower", "upper")], rtol=1e-8)


@pytest.mark.parametrize("confirmed", [(), ("KF-002",)])
def test_the_page_and_a_screen_have_one_ratio(random_store: Path, confirmed: tuple[str, ...]) -> None:
    """In every window, of implants and constructs, among them those that are in nobody's comparison group."""
    settings = replace(read_settings(random_store), confirmed=confirmed)
    desk = SignalsDesk(random_store, policy=SHOW_ALL, settings=settings)
    for kind, codes in (("implants", ("KT-001", "KF-002")), ("constructs", ("KF-001/KT-001", "KF-002/KT-002"))):
        screened = {(row.code, row.window): row for row in desk.screen(kind, EVERYTHING).rows}
        compared = 0
        for code in codes:
            for row in desk.explained(code).windows:
                told = screened.get((code, row.group))
                if told is not None and told.hazard_ratio is not None:
                    assert (row.joints, row.revisions) == (told.joints, told.revisions)
                    assert row.hazard_ratio == pytest.approx(told.hazard_ratio, rel=1e-9)
                    compared += 1
        assert compared > 3


def test_excess_by_reason_adds_up(random_desk: SignalsDesk) -> None:
    *parts, whole = random_desk.explained("KT-001").excess
    assert len(parts) > 3
    for name in ("revisions", "expected", "excess"):
        assert sum(getattr(row, name) for row in parts) == pytest.approx(getattr(whole, name), abs=1e-9)
    assert [row.excess for row in parts] == sorted((row.excess for row in parts), reverse=True)


def test_users_add_up_to_the_implant(random_desk: SignalsDesk) -> None:
    """Surgeons that are not recorded are nobody who could be left out: their joints count in the whole alone."""
    page = random_desk.explained("KT-001", adjust=())
    unknown = random_desk.rates(asked(random_desk, "implant=KT-001 class=total surgeon=not-recorded")).rows[0]
    for unit, lacking in (("hospital", 0), ("surgeon", unknown.joints)):
        users = [row for row in page.users if row.unit == unit]
        assert sum(row.joints for row in users) + lacking == page.whole.joints
        assert sum(row.revisions for row in users) <= page.whole.revisions
    hospitals = [row for row in page.users if row.unit == "hospital"]
    assert sum(row.expected for row in hospitals) == pytest.approx(page.excess[-1].expected)


def test_one_surgeon_alone_is_refused_with_the_reason(explained: Explanation) -> None:
    """In the colon data all of the implant is one surgeon's, and nothing else is."""
    row = one(explained.falls, unit="surgeon")
    assert (row.fall, row.ratio_without, row.chance_lower) == (None, None, None)
    assert "S0001 alone uses it" in row.finding
    held = one(explained.alike, alike="surgeon")
    assert held.hazard_ratio is None
    assert held.withheld == (
        "KT-003 and its surgeon are never apart: no other joint that is like its own in the rest has the same one"
    )


@pytest.fixture(scope="module")
def few(tmp_path_factory: pytest.TempPathFactory) -> Explanation:
    """KF-002 goes with KT-002 alone, which a few joints have; one of them has a revision that is held back."""
    lines = [component("femoral", "KF-002", out_day=100), component("tibial", "KT-002"), component("stem", "KS-001")]
    failed = {"ended": "revised", "reason": "infection"}
    rows = [
        joint(construct="KF-002/KT-002", components=lines, days=100, stem_used=True, **failed),
        *[joint(construct="KF-002/KT-002", days=100, **failed) for _ in range(3)],
        *[joint(days=90 + n, **failed) for n in range(6)],
        joint(construct="KF-002/KT-002", days=900),
    ]
    rows = [row | {"surgeon_id": "not recorded"} for row in rows]
    store = make_cut(tmp_path_factory.mktemp("store"), rows, held=[(10, "no-reason")])
    return SignalsDesk(store, policy=SHOW_ALL).explained("KF-002")


def test_users_that_are_not_recorded_are_nobody_who_could_be_left_out(few: Explanation) -> None:
    row = one(few.falls, unit="surgeon")
    assert (row.users, row.withheld) == (0, "no surgeon is recorded")
    assert not [user for user in few.users if user.unit == "surgeon"]


def test_a_companion_that_is_never_apart_is_refused_with_the_reason(few: Explanation) -> None:
    row = one(few.alike, alike="tibial")
    assert (row.hazard_ratio, row.compared_joints) == (None, 0)
    assert row.withheld is not None
    assert "KF-002 and its tibial component are never apart" in row.withheld
    assert one(few.companions, companion="KT-002").withheld == (
        "KT-002 is used with KF-002 alone: the two cannot be told apart"
    )


def test_first_revisions_have_shares_of_their_own_denominators(few: Explanation) -> None:
    taken = one(few.at_first_revision, kind="taken out", what="femoral")
    assert (taken.revisions, taken.of, taken.others_revisions, taken.others_of) == (1, 4, 0, 6)
    assert taken.share == 0.25
    assert taken.lower == pytest.approx(0.0063095, rel=1e-4)  # binom.test(1, 4) of R
    stem = one(few.at_first_revision, kind="taken out", what="stem")
    assert (stem.revisions, stem.of, stem.others_of) == (0, 1, 0)
    assert (stem.others_share, stem.others_upper) == (None, None)
    assert one(few.at_first_revision, what="a stem").revisions == 1


def test_held_revisions_of_its_joints_are_told_beside_those_of_others(few: Explanation) -> None:
    held = few.nearby[0]
    assert (held.found, held.of, held.share, held.others_share) == (1, 5, 0.2, 0.0)


@pytest.fixture(scope="module")
def small_store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_cut(tmp_path_factory.mktemp("store"), random_joints(400, seed=3))


def test_what_rests_on_too_few_is_withheld_and_still_adds_up(small_store: Path) -> None:
    page = SignalsDesk(small_store, policy=Policy()).explained("KT-001")
    few = [row for row in page.excess if row.withheld]
    assert few
    assert all(row.lower is None and row.ratio is None and row.excess is not None for row in few)
    assert all("rests on fewer than 5 revisions of others" in str(row.withheld) for row in few)
    assert all(row.hazard_ratio is None for row in page.subgroups if row.withheld == "fewer than 40 joints")


def test_small_counts_are_withheld_from_whoever_is_not_of_the_office(small_store: Path) -> None:
    page = SignalsDesk(small_store, policy=Policy(withhold_counts_under=10)).explained("KT-001")
    names = ("joints", "revisions", "found", "others_joints", "others_revisions", "compared_joints", "elsewhere_joints")
    lists = (page.windows, page.excess, page.at_first_revision, page.subgroups, page.users, page.alike, page.companions)
    shown = [
        (row, getattr(row, name))
        for rows in (*lists, page.nearby)
        for row in rows
        for name in names
        if getattr(row, name, None) is not None
    ]
    assert shown
    assert not [row for row, count in shown if 0 < count < 10]


def test_joints_that_lack_a_field_are_in_no_ratio_and_told(random_desk: SignalsDesk) -> None:
    page = random_desk.explained("KT-001", adjust=grouping.parse("asa"))
    assert [left.field for left in page.left_out] == ["asa"]
    assert any("have no asa" in caution for caution in page.head.cautions)


def test_a_page_may_be_asked_within_a_cohort(random_desk: SignalsDesk) -> None:
    page = random_desk.explained("KT-001", asked(random_desk, "sex=female"))
    assert [row.group for row in page.subgroups if row.field == "sex"] == ["female"]
    assert page.head.joints == page.whole.joints


def test_an_unknown_implant_or_construct_is_refused_with_the_nearest(random_desk: SignalsDesk) -> None:
    with pytest.raises(FilterError, match=r"There is no implant KT-099 in .* Nearest: KT-00"):
        random_desk.explained("KT-099")
    with pytest.raises(FilterError, match=r"There is no construct KF-001/KT-099 in .* Nearest: KF-001/KT-00"):
        random_desk.explained("KF-001/KT-099")


def test_an_implant_alone_in_its_class_has_nothing_to_be_compared_with(tmp_path: Path) -> None:
    desk = SignalsDesk(make_cut(tmp_path, [joint(), joint()]), policy=SHOW_ALL)
    with pytest.raises(FilterError, match=r"No other joint of .* can be compared with KF-001"):
        desk.explained("KF-001", Cohort())


def test_a_surgeon_who_makes_an_implant_look_poor_is_named_outside_the_range_of_chance(tmp_path: Path) -> None:
    """
    Nine surgeons; S0005 does poorly with everything and uses KT-002 more than others do. Without S0005 its ratio is
    near 1, and held alike by surgeon it is too.
    """
    draw = random.Random(6)
    rows = []
    for number in range(1500):
        surgeon = number % 9
        own = draw.random() < (0.6 if surgeon == 5 else 0.2)
        fails = draw.random() < (0.5 if surgeon == 5 else 0.08)
        rows.append(
            joint(
                construct="KF-002/KT-002" if own else "KF-001/KT-001",
                surgeon_id=f"S000{surgeon}",
                days=draw.randrange(1, 3000),
                **({"ended": "revised", "reason": "infection"} if fails else {}),
            )
        )
    page = SignalsDesk(make_cut(tmp_path, rows)).explained("KT-002")
    row = one(page.falls, unit="surgeon")
    assert row.user == "S0005"
    assert row.ratio > 1.6
    assert row.ratio_without < 1.3
    assert row.fall > row.chance_upper
    assert row.chance_as_large < 0.05
    limits = f"({row.lower:.2f} to {row.upper:.2f})"
    assert row.finding.startswith(f"Without surgeon S0005 the ratio is {row.ratio_without:.2f} {limits} instead of")
    assert one(page.alike, alike="surgeon").hazard_ratio < 1.4


def test_a_user_who_has_nearly_all_of_its_revisions_is_named_where_too_few_are_left_for_a_ratio(
    small_store: Path,
) -> None:
    """The policy asks for as many revisions as there are, so that nobody can be left out."""
    every = SignalsDesk(small_store, policy=SHOW_ALL).explained("KF-001").excess[-1].revisions
    assert every is not None
    page = SignalsDesk(small_store, policy=replace(SHOW_ALL, minimum_events=every)).explained("KF-001")
    row = one(page.falls, unit="hospital")
    most = max((user for user in page.users if user.unit == "hospital"), key=lambda user: user.revisions)
    assert row.user == most.user
    assert (row.ratio_without, row.fall, row.chance_upper) == (None, None, None)
    assert row.withheld == f"fewer than {every} of its revisions are left without one of them"
    left = every - most.revisions
    assert row.finding.startswith(f"Without hospital {most.user} {left} of its {every} revisions are left, too few")


def test_what_is_found_is_a_sentence_without_a_verdict(random_desk: SignalsDesk) -> None:
    for row in random_desk.explained("KT-001").falls:
        assert row.finding.startswith(f"Without {row.unit} {row.user} the ratio is {row.ratio_without:.2f} (")
        assert "are exchangeable the largest fall is" in row.finding


def test_decisions_on_it_stand_on_its_page_and_one_that_is_confirmed_leaves_comparison_groups(
    small_store: Path, tmp_path: Path
) -> None:
    (tmp_path / "cuts").symlink_to(small_store / "cuts")  # the same cut, and an office file of its own
    desk = SignalsDesk(tmp_path, policy=SHOW_ALL)
    before = desk.explained("KT-001")
    unit, rests = Unit("implants", "knee", "total", "tibial", "KT-002"), RestsOn("a cut", "a hash", "", "1", "a hash")
    for state, why in (("under review", "asked for"), ("confirmed", "the panel agreed")):
        decide(tmp_path, unit, EVERY, state, why, rests)
    assert [review.state for review in desk.explained("KT-002").decisions] == ["under review", "confirmed"]
    after = desk.explained("KT-001")
    assert after.decisions == ()
    assert after.excess[-1].others_revisions < before.excess[-1].others_revisions
    assert any("1 implant that is withdrawn or confirmed" in said for said in after.head.cautions)
    assert after.whole.joints == before.whole.joints
