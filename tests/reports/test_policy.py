"""
What the policy withholds is withheld everywhere: no figure under a minimum leaves in a table, in JSON or in CSV.

Sources: small counts, Hundepool et al. (2012), Statistical Disclosure Control; five events a group, Vittinghoff &
McCulloch (2007), Am J Epidemiol 165:710-718; forty at risk, common practice, no published source.
"""

import csv
import io
import json
import random
import re
import tempfile
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from regdash import grouping
from regdash.cohort import Cohort
from regdash.errors import PolicyError
from regdash.output.machine import as_csv, as_json
from regdash.output.people import as_text
from regdash.reports.desk import Desk
from regdash.reports.policy import Policy
from regdash.reports.policy_file import read_policy
from tests.cuts import joint, make_cut
from tests.reports.desks import EVERYTHING, desk_of

UNDER = 11
SMALL = Policy(minimum_at_risk=1, minimum_events=1, withhold_counts_under=UNDER)
BY_CLASS = grouping.parse("class")
BY_HOSPITAL = grouping.parse("hospital")

# Fields that count joints, patients or revisions, in whatever answer they stand.
COUNTS = {"joints", "patients", "revisions", "held_revisions", "at_risk", "revised", "died", "lost", "modelled_joints"}
# What a field of a row gives away when it is shown: the counts it follows from.
FIGURES = {
    "estimate": ("at_risk", "revisions"),
    "incidence": ("at_risk", "revisions"),
    "share": ("revisions",),
    "per_100_implant_years": ("joints", "revisions"),
    "rate_ratio": ("joints", "revisions"),
    "expected": ("joints", "revisions"),
    "p": ("revisions",),
    "mean_age": ("joints", "patients"),
    "median_follow_up": ("joints", "patients"),
    "first_date": ("joints",),
    "first_used": ("joints",),
}
QUESTIONS: dict[str, Callable[[Desk], Any]] = {
    "risk": lambda desk: desk.risk(EVERYTHING, BY_HOSPITAL, [1, 5], difference=True),
    "risk, patient view": lambda desk: desk.risk(EVERYTHING, BY_HOSPITAL, [5], view="patient"),
    "risk, one reason": lambda desk: desk.risk(EVERYTHING, BY_HOSPITAL, [5], reason="infection"),
    "risk, landmark": lambda desk: desk.risk(EVERYTHING, BY_CLASS, [5], given_unrevised=1),
    "risk, standardised": lambda desk: desk.risk(EVERYTHING, BY_CLASS, [5], standardise=grouping.parse("sex")),
    "risk, verdicts": lambda desk: desk.risk(EVERYTHING, BY_HOSPITAL, [5], ceiling=0.1, margin=0.2, at_least=1),
    "risk of patients": lambda desk: desk.risk(EVERYTHING, BY_CLASS, [5], difference=True, cluster="patient"),
    "rates": lambda desk: desk.rates(EVERYTHING, BY_HOSPITAL),
    "rates in windows": lambda desk: desk.rates(EVERYTHING, BY_HOSPITAL, windows=(1, 3), calendar=(2012,)),
    "reasons": lambda desk: desk.reasons(EVERYTHING, BY_CLASS, 5),
    "describe": lambda desk: desk.describe(EVERYTHING, BY_HOSPITAL),
    "compare": lambda desk: desk.compare(EVERYTHING, BY_HOSPITAL, windows=(2,)),
    "compare, penalised": lambda desk: desk.compare(EVERYTHING, BY_HOSPITAL, penalised=True),
    "gap": lambda desk: desk.gap(EVERYTHING, BY_CLASS, years=5),
    "implants": lambda desk: desk.implants(EVERYTHING),
    "implant": lambda desk: desk.implant("KF-002"),
}


def register() -> list[dict[str, Any]]:
    """Hospitals of 300, 300, 30 and 6 joints; the third has 4 revisions, and reasons are uneven."""
    draw, rows = random.Random(5), []
    for hospital, joints, revised in (("H001", 300, 60), ("H002", 300, 45), ("H003", 30, 4), ("H004", 6, 2)):
        for n in range(joints):
            event = n < revised
            rows.append(
                joint(
                    hospital_id=hospital,
                    sex=draw.choice(("female", "male")),
                    class_="partial" if n % 3 == 0 else "total",
                    construct="KF-002/KT-002" if n % 20 == 0 else "KF-001/KT-001",
                    implanted_date=date(2010, 1, 4),
                    days=draw.randrange(10, 1600) if event else draw.randrange(1700, 4000),
                    ended="revised" if event else draw.choice(("in place", "in place", "died")),
                    reason=("infection" if n % 15 == 0 else "wear, bearing surface") if event else None,
                    bmi=None if n % 100 == 7 else 28.0,
                )
            )
    return rows


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_cut(tmp_path_factory.mktemp("store"), register(), held=[(0, "side-missing"), (1, "side-missing")])


def rows_in(value: Any) -> Iterator[dict[str, Any]]:
    """Every object of an answer, at any depth."""
    if isinstance(value, dict):
        yield value
        for part in value.values():
            yield from rows_in(part)
    if isinstance(value, list):
        for part in value:
            yield from rows_in(part)


@pytest.mark.parametrize("asked", QUESTIONS)
def test_no_small_count_leaves_in_json(store: Path, asked: str) -> None:
    answer = json.loads(as_json(QUESTIONS[asked](Desk(store, policy=SMALL))))
    assert answer["policy"]["withhold_counts_under"] == UNDER
    for row in rows_in(answer):
        for field in COUNTS & row.keys():
            assert row[field] is None or row[field] == 0 or row[field] >= UNDER, (asked, field, row)


@pytest.mark.parametrize("asked", QUESTIONS)
def test_no_figure_leaves_that_gives_a_small_count_away(store: Path, asked: str) -> None:
    answer = json.loads(as_json(QUESTIONS[asked](Desk(store, policy=SMALL))))
    for row in rows_in({"rows": answer["rows"], **{k: v for k, v in answer.items() if isinstance(v, list)}}):
        for figure, counts in FIGURES.items():
            hidden = any(count in row and row[count] is None for count in counts)
            assert not (hidden and row.get(figure) is not None), (asked, figure, row)
        if any(row.get(count, 0) is None for count in COUNTS & row.keys()) and "stratum" not in row:
            assert "withheld" in row or "field" in row, (asked, row)


@pytest.mark.parametrize("asked", QUESTIONS)
def test_no_small_count_leaves_in_csv(store: Path, asked: str) -> None:
    for row in csv.DictReader(io.StringIO(as_csv(QUESTIONS[asked](Desk(store, policy=SMALL))))):
        for field in COUNTS & row.keys():
            assert row[field] in ("", "0") or int(row[field]) >= UNDER, (asked, field, row)


@pytest.mark.parametrize("asked", QUESTIONS)
def test_no_sentence_of_a_page_says_a_small_count(store: Path, asked: str) -> None:
    page = as_text(QUESTIONS[asked](Desk(store, policy=SMALL)), 400)
    counted = re.findall(r"(?<![\d.,–to ])\b([1-9]|10) (?:joints?|patients?|revisions?|revised|have no)\b", page)
    said = [number for number in counted if int(number) < UNDER]
    assert not said, (asked, page)


def test_without_the_setting_the_office_sees_every_count(store: Path) -> None:
    rows = {row.group: row for row in Desk(store).rates(EVERYTHING, BY_HOSPITAL).rows}
    assert (rows["H003"].joints, rows["H003"].revisions, rows["H004"].joints) == (30, 4, 6)
    assert Desk(store).describe(EVERYTHING).head.held_revisions == 2


def test_a_small_count_takes_its_row_with_it_and_says_why(store: Path) -> None:
    rows = {row.group: row for row in Desk(store, policy=SMALL).rates(EVERYTHING, BY_HOSPITAL).rows}
    third, fourth = rows["H003"], rows["H004"]
    assert (third.joints, third.revisions, third.per_100_implant_years, third.upper) == (30, None, None, None)
    assert (fourth.joints, fourth.implant_years, fourth.revisions) == (None, None, None)
    assert third.withheld == fourth.withheld == "counts of 1 to 10 are withheld"
    assert rows["H001"].withheld is None


def test_nothing_is_drawn_where_small_counts_are_withheld_since_a_step_is_a_count_of_one(store: Path) -> None:
    assert all(not len(curve.days) for curve in Desk(store, policy=SMALL).risk(EVERYTHING).curves)
    assert all(len(curve.days) for curve in Desk(store).risk(EVERYTHING).curves)


@given(
    st.lists(st.lists(st.integers(0, 40), min_size=4, max_size=4), min_size=1, max_size=3),
    st.integers(2, 12),
)
def test_what_parts_withhold_together_is_never_small_nor_one_alone(counts: list[list[int]], under: int) -> None:
    """A reader takes what is shown off a total that is shown: what is left must not be a count that is withheld."""
    rows = np.array(counts)
    policy = Policy(withhold_counts_under=under)
    hidden = policy.hidden_parts(rows)
    small = (rows > 0) & (rows < under)
    assert hidden[small.any(axis=0)].all()
    assert hidden.any() == small.any()
    for row in rows[small.any(axis=1) & (rows.sum(axis=1) >= under)]:
        left = row.sum() - row[~hidden].sum()
        assert left >= under
        assert np.count_nonzero(row[hidden]) >= 2


@given(st.lists(st.integers(0, 30), min_size=3, max_size=3), st.integers(2, 12))
@settings(max_examples=12, deadline=None)
def test_no_reason_follows_from_the_total_of_its_group(counts: list[int], under: int) -> None:
    words = ("infection", "wear, bearing surface", "pain, unexplained")
    rows = [joint(days=10 + n, ended="revised", reason=word) for word, many in zip(words, counts) for n in range(many)]
    rows += [joint(days=3000)] * 60
    with tempfile.TemporaryDirectory() as folder:
        report = desk_of(Path(folder), rows, Policy(withhold_counts_under=under)).reasons(EVERYTHING, years=1)
    shown = [row.revisions for row in report.rows if row.revisions is not None]
    hidden = [row for row in report.rows if row.revisions is None]
    assert all(row.share is None and row.incidence is None and row.withheld for row in hidden)
    if hidden and sum(counts) >= under:
        assert report.head.revisions == sum(counts)
        assert sum(counts) - sum(shown) >= under
        assert len(hidden) >= 2
    assert bool(hidden) == any(0 < many < under for many in counts)


def test_answers_about_single_joints_are_refused_where_small_counts_are_withheld(store: Path) -> None:
    desk = Desk(store, policy=SMALL)
    with pytest.raises(PolicyError, match="Counts under 11 are withheld"):
        desk.joints(EVERYTHING)
    with pytest.raises(PolicyError, match="one joint's life shows joints one by one"):
        desk.joint("P000000000-KL")


def test_a_value_that_few_joints_have_is_not_offered(store: Path) -> None:
    assert set(Desk(store, policy=SMALL).values("hospital", EVERYTHING)) == {"H001", "H002", "H003"}


def test_figures_that_chance_could_have_made_are_withheld_from_everybody(store: Path) -> None:
    strict = Policy(minimum_at_risk=301, minimum_events=61)
    desk = Desk(store, policy=strict)
    assert all(row.estimate is None and row.withheld for row in desk.risk(EVERYTHING, BY_HOSPITAL, [1]).rows)
    assert all(row.per_100_implant_years is None and row.withheld for row in desk.rates(EVERYTHING, BY_HOSPITAL).rows)
    assert all(row.incidence is None and row.withheld for row in desk.reasons(EVERYTHING, BY_HOSPITAL, 5).rows)
    assert all(row.hazard_ratio is None and row.withheld for row in desk.compare(EVERYTHING, BY_HOSPITAL).rows)


def test_a_hazard_ratio_needs_five_revisions_in_each_group(tmp_path: Path) -> None:
    def row(revised: int, penalised: bool = False) -> Any:
        rows = [joint(bearing="fixed", days=100 + n, ended="revised" if n < 30 else "in place") for n in range(200)]
        own = ["revised" if n < revised else "in place" for n in range(90)]
        rows += [joint(bearing="mobile", days=90 + n, ended=ended) for n, ended in enumerate(own)]
        desk = desk_of(tmp_path / f"{revised}{penalised}", rows, Policy())
        (found,) = desk.compare(EVERYTHING, grouping.parse("bearing"), (), penalised=penalised).rows
        return found

    four = row(4)
    assert (four.hazard_ratio, four.withheld) == (None, "fewer than 5 revisions")
    assert row(5).withheld is None
    assert row(4, penalised=True).hazard_ratio is not None  # Firth's limits are made for few


def test_without_a_file_the_policy_is_the_default(tmp_path: Path) -> None:
    assert read_policy(tmp_path) == Policy()


def test_the_file_of_the_store_is_the_policy_of_its_desk(tmp_path: Path) -> None:
    make_cut(tmp_path, [joint(days=100 + n) for n in range(25)])
    (tmp_path / "policy.toml").write_text("minimum_at_risk = 20\nconfidence_level = 0.9\n", encoding="utf-8")
    report = Desk(tmp_path).rates(Cohort())
    assert report.rows[0].withheld is None
    assert report.head.settings["minimum_at_risk"] == 20
    assert report.head.settings["confidence_level"] == 0.9
    assert report.rows[0].upper == pytest.approx(2.995732 / report.rows[0].implant_years * 100, rel=1e-6)  # -log(0.05)


def test_a_command_may_ask_for_more_withholding_and_never_for_less(tmp_path: Path) -> None:
    make_cut(tmp_path, [joint()])
    (tmp_path / "policy.toml").write_text("withhold_counts_under = 10\n", encoding="utf-8")
    assert Desk(tmp_path, withhold_counts_under=5).policy.withhold_counts_under == 10
    assert Desk(tmp_path, withhold_counts_under=20).policy.withhold_counts_under == 20


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("minimum_at_risk = ", "is not TOML"),
        ("minimum_risk = 4", "has minimum_risk, which is no setting. Nearest: minimum_at_risk"),
        ("minimum_at_risk = 'forty'", "minimum_at_risk is a whole number from 0 up, as in 10, not 'forty'."),
        ("withhold_counts_under = -1", "withhold_counts_under is a whole number from 0 up"),
        ("minimum_events = true", "minimum_events is a whole number"),
        ("confidence_level = 95", "confidence_level is a number between 0 and 1, as in 0.95, not 95."),
    ],
)
def test_a_bad_file_is_one_clear_line_that_names_it(tmp_path: Path, text: str, said: str) -> None:
    (tmp_path / "policy.toml").write_text(text, encoding="utf-8")
    with pytest.raises(PolicyError) as refused:
        read_policy(tmp_path)
    assert str(tmp_path / "policy.toml") in str(refused.value)
    assert said in str(refused.value)
    assert "\n" not in str(refused.value)
