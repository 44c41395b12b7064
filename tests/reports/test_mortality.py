"""
Mortality per operation is that of R and lifelines on the same people, operation by operation.

tests/reference/data_operations.csv is a made-up register of 400 patients by joint: both sides on one day, staged ones,
knee and hip of one patient, deaths on the day of the operation, on that of loss, and after the deaths feed ends on
2024-11-30. What is counted as an operation, and that day 0 is its own day, is common practice (no published source).
"""

import json
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest
from lifelines import KaplanMeierFitter

from regdash import grouping
from regdash.errors import FilterError, StoreError
from regdash.output.machine import as_json
from regdash.reports.desk import Desk
from regdash.reports.mortality_model import MortalityRow
from regdash.reports.policy import Policy
from tests.cuts import Row, hip, joint, make_cut
from tests.reports.desks import EVERYTHING, SHOW_ALL, asked, reference

DEATHS_THROUGH = date(2024, 11, 30)


def day(text: str) -> date | None:
    return date.fromisoformat(text) if text else None


def followed(row: dict[str, str]) -> Row:
    """A joint of the register, revised or not, as a freeze would follow it."""
    on, died, lost = (day(row[name]) for name in ("implanted", "died", "lost"))
    assert on is not None
    last = min(each for each in (died, lost, DEATHS_THROUGH) if each is not None)
    how = "died" if died == last else "lost" if lost == last else "in place"
    revised = day(row["revised"])
    known = died is not None and died <= DEATHS_THROUGH
    kind = hip if row["joint"] == "hip" else joint
    return kind(
        patient=int(row["patient"]),
        side=row["side"],
        class_=row["class"],
        asa=row["asa"],
        implanted_date=on,
        days=((revised or last) - on).days,
        ended="revised" if revised else how,
        followed_days=(last - on).days if revised else None,
        followed_end=how if revised else None,
        died_day=(died - on).days if known and died else None,
        reason="infection" if revised else None,
    )


@pytest.fixture(scope="module")
def register(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    rows = reference("data_operations")
    losses = {int(row["patient"]): lost for row in rows if (lost := day(row["lost"]))}
    folder = tmp_path_factory.mktemp("operations")
    make_cut(folder, map(followed, rows), losses=losses, deaths_through=DEATHS_THROUGH.isoformat())
    desk = Desk(folder, policy=SHOW_ALL)
    yield desk
    desk.close()


@pytest.mark.parametrize(
    ("cohort", "by"), [("joint=knee", ""), ("joint=knee", "class"), ("joint=hip", "class"), ("", "")]
)
def test_mortality_per_operation_is_that_of_r(register: Desk, cohort: str, by: str) -> None:
    """
    Knees and hips of one patient stay apart also where nobody asks. R 4.2.2, survival 3.5-3:

        d <- read.csv("data_operations.csv", na.strings = "")
        for (x in c("implanted", "died", "lost")) d[[x]] <- as.Date(d[[x]])
        o <- unique(d[d$joint == joint, c("patient", "implanted", "died", "lost", by)])
        stop <- pmin(o$died, o$lost, as.Date("2024-11-30"), na.rm = TRUE)
        o$time <- as.integer(stop - o$implanted)
        o$status <- as.integer(!is.na(o$died) & o$died == stop)
        summary(survfit(Surv(time, status) ~ 1, o[o[[by]] == group, ], conf.type = "log-log"),
                c(0, 30, 90, 365, 1461), extend = TRUE)
    """
    stated = by or ("" if cohort else "joint")
    wanted = [r for r in reference("mortality_operations") if (r["cohort"], r["by"]) == (cohort, stated)]
    report = register.mortality(asked(register, cohort), grouping.parse(by) if by else (), (0, 30, 90, 365, 1461))
    assert len(wanted) == len(report.rows) >= 5
    ours = {(row.group, row.days): row for row in report.rows}
    for r in wanted:
        row, risk = ours[r["group"], int(r["days"])], float(r["estimate"])
        assert (row.at_risk, row.deaths) == (int(r["at_risk"]), int(r["deaths"]))
        if not row.at_risk:
            assert row.estimate is None
            assert row.withheld
            continue
        assert row.estimate == pytest.approx(risk, abs=1e-12)
        if 0 < risk < 1:
            assert (row.lower, row.upper) == pytest.approx((float(r["lower"]), float(r["upper"])), abs=1e-12)


def test_a_filter_and_a_group_give_what_lifelines_gives(register: Desk) -> None:
    """lifelines.KaplanMeierFitter on one row an operation, made here from the file."""
    report = register.mortality(asked(register, "joint=knee class=total"), grouping.parse("asa"), (30, 365))
    assert {row.group for row in report.rows} == {"I", "II", "III"}
    for group in report.groups:
        rows = [
            r
            for r in reference("data_operations")
            if (r["joint"], r["class"], r["asa"]) == ("knee", "total", group.label)
        ]
        people = {(r["patient"], r["implanted"]): r for r in rows}
        ends = [times(r) for r in people.values()]
        theirs = KaplanMeierFitter().fit([time for time, _ in ends], [died for _, died in ends])
        for row in (row for row in report.rows if row.group == group.label):
            assert row.estimate == pytest.approx(1 - float(theirs.predict(row.days)), abs=1e-12)
            limits = 1 - theirs.confidence_interval_.loc[: row.days].iloc[-1].to_numpy()
            assert (row.upper, row.lower) == pytest.approx(tuple(limits), abs=1e-9)


def times(row: dict[str, str]) -> tuple[int, bool]:
    """Days in follow-up of an operation, and whether the patient had died by then."""
    on, died, lost = (day(row[name]) for name in ("implanted", "died", "lost"))
    assert on is not None
    last = min(each for each in (died, lost, DEATHS_THROUGH) if each is not None)
    return (last - on).days, died == last


def test_the_head_counts_operations_joints_and_patients_each_once(register: Desk) -> None:
    rows = [row for row in reference("data_operations") if row["joint"] == "knee"]
    operations = {(row["patient"], row["implanted"]) for row in rows}
    head = register.mortality(asked(register, "joint=knee"), grouping.parse("class")).head
    assert (head.operations, head.joints) == (len(operations), len(rows)) == (303, 341)
    assert head.patients == len({row["patient"] for row in rows})
    assert head.deaths == sum(died for _, died in {(r["patient"], r["implanted"]): times(r) for r in rows}.values())
    assert head.deaths_known_through == "2024-11-30"
    in_both = [caution for caution in head.cautions if "different groups" in caution]
    assert in_both == ["13 operations have their two sides in different groups and count in each."]


def test_a_knee_and_a_hip_on_one_day_are_two_operations(register: Desk) -> None:
    apart = {(row["patient"], row["implanted"], row["joint"]) for row in reference("data_operations")}
    together = {(row["patient"], row["implanted"]) for row in reference("data_operations")}
    head = register.mortality(EVERYTHING).head
    assert head.operations == len(apart) > len(together)
    assert not any("different groups" in caution for caution in head.cautions)


# By hand


def mortality(
    folder: Path, rows: list[Row], words: str = "", policy: Policy = SHOW_ALL, **more: object
) -> list[MortalityRow]:
    desk = Desk(make_cut(folder, rows, **more), policy=policy)  # type: ignore[arg-type]
    try:
        return list(desk.mortality(asked(desk, words), days=(0, 29, 30, 90)).rows)
    finally:
        desk.close()


def deaths(rows: list[MortalityRow]) -> list[int | None]:
    return [row.deaths for row in rows]


def test_death_on_the_day_of_the_operation_and_on_the_last_day_count(tmp_path: Path) -> None:
    rows = mortality(tmp_path, [joint(days=0, ended="died"), joint(days=30, ended="died"), joint(), joint()])
    assert deaths(rows) == [1, 1, 2, 2]
    assert [row.at_risk for row in rows] == [4, 3, 3, 2]
    assert [row.estimate for row in rows] == pytest.approx([0.25, 0.25, 0.5, 0.5])


def test_both_sides_on_one_day_are_one_operation_and_staged_sides_two(tmp_path: Path) -> None:
    first, second = date(2020, 1, 1), date(2020, 1, 21)
    together = [joint(patient=1, side=side, implanted_date=first, days=25, ended="died") for side in ("left", "right")]
    staged = [
        joint(patient=2, implanted_date=first, days=25, ended="died"),
        joint(patient=2, side="right", implanted_date=second, days=5, ended="died"),
    ]
    rows = mortality(tmp_path, [*together, *staged, joint(patient=3)])
    assert [row.at_risk for row in rows] == [4, 1, 1, 1]
    assert deaths(rows) == [0, 3, 3, 3]


def test_a_revision_ends_nothing_and_neither_does_the_hospitals_own_feed(tmp_path: Path) -> None:
    """Both patients died on day 80; the second one's hospital had reported through day 40 alone."""
    revised = joint(days=10, ended="revised", reason="infection", died_day=80)
    late = joint(days=40, ended="in place", died_day=80)
    assert deaths(mortality(tmp_path, [revised, late, joint()])) == [0, 0, 0, 2]


def test_death_counts_on_the_day_of_loss_and_not_after_it(tmp_path: Path) -> None:
    on = date(2010, 1, 4)
    rows = [
        joint(patient=1, days=20, ended="died"),
        joint(patient=2, days=20, ended="lost", died_day=25),
        joint(patient=3),
    ]
    losses = {n: on + timedelta(days=20) for n in (1, 2)}
    found = mortality(tmp_path, rows, losses=losses)
    assert deaths(found) == [0, 1, 1, 1]
    assert [row.at_risk for row in found] == [3, 1, 1, 1]


def test_follow_up_ends_where_deaths_are_known_and_no_later(tmp_path: Path) -> None:
    on = date(2024, 12, 1)
    found = mortality(tmp_path, [joint(implanted_date=on, days=30), joint(days=800)], deaths_through="2024-12-21")
    assert [row.at_risk for row in found] == [2, 1, 1, 1]


def test_a_cut_without_a_feed_of_deaths_has_no_mortality(tmp_path: Path) -> None:
    desk = Desk(make_cut(tmp_path, [joint()], deaths_through=None))
    with pytest.raises(StoreError, match="has no feed of deaths"):
        desk.mortality(EVERYTHING)
    desk.close()


def test_two_cohorts_side_by_side_have_the_figures_of_each(register: Desk) -> None:
    knees, hips = asked(register, "joint=knee"), asked(register, "joint=hip class=total")
    both = register.mortality(knees, beside=hips)
    alone = [register.mortality(one) for one in (knees, hips)]
    plain = [(row.days, row.at_risk, row.deaths, row.estimate, row.lower, row.upper) for row in both.rows]
    assert plain == [
        (row.days, row.at_risk, row.deaths, row.estimate, row.lower, row.upper) for one in alone for row in one.rows
    ]
    with pytest.raises(FilterError, match="Both cohorts are the same"):
        register.mortality(knees, beside=knees)
    with pytest.raises(FilterError, match="groups cannot be asked for as well"):
        register.mortality(knees, grouping.parse("class"), beside=hips)


def test_few_operations_and_small_counts_are_withheld_as_they_are_of_a_risk(tmp_path: Path) -> None:
    rows = [joint(days=50, ended="died") for _ in range(3)] + [joint(days=2000) for _ in range(40)]
    found = mortality(tmp_path, rows, policy=Policy(withhold_counts_under=5))
    assert [row.estimate for row in found] == [pytest.approx(0)] * 3 + [None]
    assert (found[3].deaths, found[3].withheld) == (None, "counts of 1 to 4 are withheld")
    few = mortality(tmp_path / "few", rows[:39], policy=Policy())
    assert {row.withheld for row in few} == {"fewer than 40 operations at risk"}
    assert {row.estimate for row in few} == {None}


def test_what_happened_later_chooses_no_operations_and_days_are_days(register: Desk) -> None:
    with pytest.raises(FilterError, match="known only after implantation"):
        asked(register, "ended=revised")
    with pytest.raises(FilterError, match="40,000 is not a number of days"):
        register.mortality(EVERYTHING, days=(40_000,))
    with pytest.raises(FilterError, match="at least one number of days"):
        register.mortality(EVERYTHING, days=())


def test_curves_end_where_the_table_does_and_hold_its_figures(register: Desk) -> None:
    report = register.mortality(asked(register, "joint=knee"), (), (30, 90, 365))
    (curve,) = report.curves
    for row in report.rows:
        place = [n for n, day in enumerate(curve.days) if day <= row.days][-1]
        assert curve.estimate[place] == row.estimate
        assert dict(curve.at_risk)[row.years] == row.at_risk


def test_an_answer_in_json_has_the_fields_that_scripts_rely_on(register: Desk) -> None:
    import regdash.output.mortality_pages  # noqa: F401 - makes the answer known

    answer = json.loads(as_json(register.mortality(asked(register, "joint=hip"), grouping.parse("class"), (30, 1461))))
    assert list(answer) == [
        *("measure", "cohort", "by", "cut", "operations", "joints", "patients", "deaths", "deaths_known_through"),
        *("median_follow_up", "policy", "method", "cautions", "rows"),
    ]
    for row in answer["rows"]:
        assert [key for key in row if key != "withheld"] == [
            "group",
            "days",
            "at_risk",
            "deaths",
            "estimate",
            "lower",
            "upper",
        ]
