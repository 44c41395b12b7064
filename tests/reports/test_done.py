"""
Operations by when they were done, against a plain count of the rows that hospitals sent: written from the rules of the
register (two stages within twelve months are one revision, at the first; a revision belongs to the primary of its
patient, joint and side; the leading reason is the one marked, else the first of the hierarchy), without its code.
"""

from collections import Counter
from datetime import date
from pathlib import Path

import numpy as np
import pytest
import scipy.stats

from regdash.cohort import parse
from regdash.errors import FilterError, PolicyError
from regdash.intake.receive import receive
from regdash.reports import done_groups
from regdash.reports.desk import Desk
from regdash.reports.policy import Policy
from regdash.stats.years import years_in
from regdash.store.freeze import freeze
from tests.intake.small_register import (
    Row,
    SmallRegister,
    partial,
    partial_knee,
    patient,
    primary,
    reason,
    revision,
    total_knee,
)
from tests.reports.desks import EVERYTHING

HOSPITALS = ("H001", "H002")
THROUGH = date(2008, 12, 31)
FIRST, SECOND = {"stage": "first-of-two", "action": "removal-with-spacer", "stem_used": "no"}, "second-of-two"


def operation(hospital: str, number: int) -> str:
    return f"{hospital}-{number:07d}"


PRIMARIES = [
    primary(operation("H001", 1), 1, "2006-02-01"),
    primary(operation("H001", 2), 2, "2006-03-01"),
    primary(operation("H002", 3), 3, "2006-04-03"),
    partial(operation("H001", 4), 4, "2006-05-01"),
    partial(operation("H002", 5), 5, "2007-06-01"),
    primary(operation("H002", 6), 6, "2007-07-02"),
    primary(operation("H002", 7), 7, "2008-07-01"),
    primary(operation("H001", 8), 8, "2008-12-30"),
]
# Revisions with their reasons (detail, marked as leading); patients from 20 on have no primary here.
SENT: list[tuple[Row, list[tuple[str, str]]]] = [
    (revision(operation("H001", 101), 1, "2007-06-04"), [("infection", "yes")]),
    (revision(operation("H001", 102), 2, "2007-11-20", **FIRST), [("infection", "yes")]),
    (
        revision(operation("H001", 103), 2, "2008-02-11", stage=SECOND, action="reimplantation", augment_used="yes"),
        [("infection", "yes")],
    ),
    (revision(operation("H002", 104), 3, "2006-09-01", **FIRST), [("infection", "yes")]),
    (
        revision(operation("H002", 105), 3, "2007-10-01", stage=SECOND, action="reimplantation"),
        [("infection", "yes")],
    ),
    (
        revision(operation("H001", 106), 4, "2008-01-07", action="partial-to-total", graft_used="yes"),
        [("progression-of-disease", ""), ("pain-unexplained", "")],
    ),
    (
        revision(operation("H001", 107), 4, "2008-11-03", action="bearing-exchange-only", stem_used="no"),
        [("instability", "yes")],
    ),
    (
        revision(operation("H001", 108), 5, "2008-03-03", action="partial-to-total", stem_used="no"),
        [("progression-of-disease", "yes")],
    ),
    (revision(operation("H001", 109), 20, "2007-05-02"), [("pain-unexplained", ""), ("loosening-tibial", "")]),
    (revision(operation("H002", 110), 21, "2007-12-03", **FIRST), [("infection", "yes")]),
    (
        revision(operation("H002", 111), 21, "2008-01-15", stage=SECOND, action="reimplantation", graft_used="yes"),
        [("infection", "yes")],
    ),
    (revision(operation("H001", 113), 23, "2006-11-06"), [("infection", ""), ("pain-unexplained", "yes")]),
    (
        revision(operation("H002", 112), 22, "2008-05-05", action="bearing-exchange-only", stem_used="no"),
        [("instability", "")],
    ),
]
HIERARCHY = ["infection", "loosening-tibial", "progression-of-disease", "instability", "pain-unexplained"]
GROUP_OF = {"loosening-tibial": "loosening", "progression-of-disease": "progression of disease"} | {
    "pain-unexplained": "pain"
}


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("done")
    register = SmallRegister(folder / "in")
    register.catalogue()
    register.units(hospitals=HOSPITALS)
    for hospital in HOSPITALS:
        own = [row for row in [*PRIMARIES, *(row for row, _ in SENT)] if row["hospital_id"] == hospital]
        parts = [line for row in own if row["kind"] == "primary" for line in _parts(row)]
        reasons = [
            reason(row["operation_id"], detail, leads, n)
            for row, given in SENT
            if row["hospital_id"] == hospital
            for n, (detail, leads) in enumerate(given, 1)
        ]
        register.operations("2009-02-01", own, parts, reasons, hospital=hospital, complete=THROUGH.isoformat())
    register.deaths("2009-02-01", {}, complete=THROUGH.isoformat())
    receipt = receive(folder / "store", [folder / "in"])
    assert receipt.total("accepted") == receipt.total("received")
    freeze(folder / "store", THROUGH)
    return folder / "store"


def _parts(row: Row) -> list[Row]:
    return partial_knee(row["operation_id"]) if row["class"] == "partial" else total_knee(row["operation_id"])


@pytest.fixture(scope="module")
def desk(store: Path) -> Desk:
    return Desk(store)


# The plain count


def episodes() -> list[dict[str, object]]:
    """Every revision as the register counts it, from the rows as they were sent."""
    primaries = {row["patient_id"]: row for row in PRIMARIES}
    found: list[dict[str, object]] = []
    for row, given in sorted(SENT, key=lambda sent: (sent[0]["operation_date"], sent[0]["operation_id"])):
        day = date.fromisoformat(row["operation_date"])
        earlier = [one for one in found if one["patient"] == row["patient_id"]]
        firsts = [one for one in earlier if one["stage"] == "first-of-two"]
        extras = {name for name in ("stem", "augment", "graft") if row[f"{name}_used"] == "yes"}
        if row["stage"] == SECOND and firsts and day <= date(*_a_year_on(firsts[-1]["day"])):
            firsts[-1]["extras"] |= extras  # type: ignore[operator]
            firsts[-1]["stages"] += 1  # type: ignore[operator]
            continue
        marked = [detail for detail, leads in given if leads == "yes"]
        leading = min(marked or [detail for detail, _ in given], key=HIERARCHY.index)
        of = primaries.get(row["patient_id"])
        found.append(
            {
                "patient": row["patient_id"],
                "day": day,
                "stage": row["stage"],
                "hospital": row["hospital_id"],
                "class": of["class"] if of else None,
                "order": len(earlier) + 1 if of else None,
                "reason": GROUP_OF.get(leading, leading),
                "action": row["action"].replace("-", " "),
                "extras": extras,
                "stages": 1,
            }
        )
    return found


def _a_year_on(day: object) -> tuple[int, int, int]:
    assert isinstance(day, date)
    return day.year + 1, day.month, day.day


def test_the_plain_count_has_what_this_is_about() -> None:
    found = episodes()
    assert len(SENT) - len(found) == 2  # two second stages within twelve months, one of an unlinked revision
    assert [one["order"] for one in found].count(None) == 4
    assert {2, None} <= {one["order"] for one in found}
    assert any("graft" in one["extras"] and one["order"] is None for one in found)  # type: ignore[operator]


@pytest.mark.parametrize("per", ["year", "quarter", "month"])
def test_operations_are_counted_where_they_were_done(desk: Desk, per: str) -> None:
    def label(day: date) -> str:
        quarter = f"{day.year}Q{(day.month + 2) // 3}"
        return {"year": f"{day.year}", "quarter": quarter, "month": f"{day:%Y-%m}"}[per]

    rows = {row.period: row for row in desk.activity(EVERYTHING, per=per).rows}
    primaries = Counter(label(date.fromisoformat(row["operation_date"])) for row in PRIMARIES)
    done = episodes()
    of = {
        "revisions": Counter(label(one["day"]) for one in done),  # type: ignore[arg-type]
        "first": Counter(label(one["day"]) for one in done if one["order"] == 1),  # type: ignore[arg-type]
        "later": Counter(label(one["day"]) for one in done if (one["order"] or 0) > 1),  # type: ignore[arg-type,operator]
        "unlinked": Counter(label(one["day"]) for one in done if one["order"] is None),  # type: ignore[arg-type]
    }
    assert sum(row.second_stages or 0 for row in rows.values()) == len(SENT) - len(done)
    assert len(rows) == {"year": 3, "quarter": 12, "month": 35}[per]  # from February 2006, none left out between
    for period, row in rows.items():
        assert row.primaries == primaries[period]
        for name, counts in of.items():
            assert getattr(row, name) == counts[period], (name, period)


def test_a_change_is_on_the_same_period_of_the_year_before(desk: Desk) -> None:
    years = {row.period: row for row in desk.activity(EVERYTHING).rows}
    assert years["2006"].primaries_change is None
    assert years["2007"].primaries_change == pytest.approx(2 / 4 - 1)
    assert years["2008"].revisions_change == pytest.approx(4 / 5 - 1)
    quarters = {row.period: row for row in desk.activity(EVERYTHING, per="quarter").rows}
    assert quarters["2008Q1"].revisions_change is None  # none in 2007Q1
    assert quarters["2008Q1"].change_withheld == (
        "no primaries in the same quarter of the year before; no revisions in the same quarter of the year before"
    )
    assert quarters["2008Q4"].revisions_change == pytest.approx(1 / 3 - 1)
    alone = desk.activity(EVERYTHING, done="2008").rows
    assert alone == (years["2008"],)  # the year before counts though it is not shown


def test_a_period_that_is_not_over_has_no_change(store: Path) -> None:
    freeze(store, date(2008, 6, 30), because="a test")
    rows = Desk(store, "2008-06-30").activity(EVERYTHING).rows
    assert (rows[-1].period, rows[-1].revisions_change) == ("2008", None)
    assert rows[-1].change_withheld == "the year is not over by the through-date"


def test_groups_are_those_of_the_primary_and_revisions_without_one_stand_apart(desk: Desk) -> None:
    report = desk.activity(EVERYTHING, done_groups.parse("class"))
    assert [group.label for group in report.groups] == ["total", "partial", "no primary here"]
    done = episodes()
    for group, of in (("total", "total"), ("partial", "partial"), ("no primary here", None)):
        own = [row for row in report.rows if row.group == group]
        assert sum(row.revisions or 0 for row in own) == sum(one["class"] == of for one in done)
    apart = [row for row in report.rows if row.group == "no primary here"]
    assert all(row.burden is None and row.withheld for row in apart)
    whole = {row.period: row.revisions for row in desk.activity(EVERYTHING).rows}
    assert {p: sum(r.revisions or 0 for r in report.rows if r.period == p) for p in whole} == whole


def test_a_word_on_the_primary_leaves_out_revisions_without_one_and_says_how_many(desk: Desk) -> None:
    report = desk.activity(parse("class=partial"))
    assert report.head.revisions == sum(one["class"] == "partial" for one in episodes()) == 3
    assert any(caution.startswith("4 further revisions are of joints without") for caution in report.head.cautions)
    not_partial = desk.activity(parse("class!=partial"))
    assert not_partial.head.revisions == sum(one["class"] == "total" for one in episodes())


def test_hospitals_are_those_of_the_operation(desk: Desk) -> None:
    counts = Counter(str(one["hospital"]) for one in episodes())
    rows = desk.activity(EVERYTHING, done_groups.parse("hospital")).rows
    assert {code: sum(r.revisions or 0 for r in rows if r.group == code) for code in HOSPITALS} == dict(counts)
    assert desk.activity(parse("hospital=H001")).head.revisions == counts["H001"]
    moved = [one for one in episodes() if one["patient"] == patient(5)]
    assert moved[0]["hospital"] == "H001" != PRIMARIES[4]["hospital_id"]
    here = desk.revision_list(parse("hospital=H001 revised=2008", outcomes=True))
    assert f"{patient(5)}-KL" in [row[1] for row in here.rows]


@pytest.mark.parametrize("words", ["", "revised=2007", "revised=2006,2008", "action=partial-to-total", "graft=yes"])
def test_reasons_and_what_was_done_are_those_of_each_revision(desk: Desk, words: str) -> None:
    report = desk.revisions(parse(words, outcomes=True))
    kept = [one for one in episodes() if _meets(one, words)]
    reasons = Counter(one["reason"] for one in kept)
    assert {row.reason: row.revisions for row in report.rows} == dict(reasons)
    assert {row.of for row in report.rows} == {len(kept)}
    work = {row.what: row.revisions for row in report.work if row.kind == "done"}
    assert work == dict(Counter(one["action"] for one in kept))
    used = {row.what: row.revisions for row in report.work if row.kind == "used"}
    counts = [sum(name in one["extras"] for one in kept) for name in ("stem", "augment", "graft")]  # type: ignore[operator]
    assert list(used.values()) == [*counts, sum(bool(one["extras"]) for one in kept)]


def _meets(one: dict[str, object], words: str) -> bool:
    key, _, value = words.partition("=")
    if key == "revised":
        return str(one["day"])[:4] in value.split(",")
    if key == "action":
        return one["action"] == value.replace("-", " ")
    return not key or "graft" in one["extras"]  # type: ignore[operator]


def test_revisions_are_grouped_by_time_since_the_primary_and_by_reason(desk: Desk) -> None:
    of = {row["patient_id"]: date.fromisoformat(row["operation_date"]) for row in PRIMARIES}
    since = Counter(
        "no primary here"
        if one["order"] is None
        else "0–1 years"
        if (one["day"] - of[str(one["patient"])]).days <= 365  # type: ignore[operator]
        else "1–5 years"
        for one in episodes()
    )
    report = desk.revisions(EVERYTHING, done_groups.parse("since"))
    groups = [group.label for group in report.groups]
    assert groups == ["0–1 years", "1–5 years", "no primary here"]
    assert {g: sum(r.revisions or 0 for r in report.rows if r.group == g) for g in groups} == dict(since)
    by_reason = desk.revisions(EVERYTHING, done_groups.parse("reason,action"))
    counts = Counter(f"{one['reason']}, {one['action']}" for one in episodes())
    totals = {row.group: row.of for row in by_reason.work}
    assert totals == dict(counts)


def test_first_revisions_alone_are_those_that_lists_of_joints_have(desk: Desk) -> None:
    listed = desk.revision_list(EVERYTHING, first=True)
    assert listed.total == sum(one["order"] == 1 for one in episodes())
    joints = desk.joints(parse("ended=revised", outcomes=True))
    assert {row[1] for row in listed.rows} == {row[0] for row in joints.rows}
    everything = desk.revision_list(EVERYTHING, order="-done_date", limit=3, offset=1)
    days = sorted((one["day"] for one in episodes()), reverse=True)  # type: ignore[type-var]
    assert [row[2] for row in everything.rows] == [str(day) for day in days[1:4]]


# The same numbers elsewhere in the program


def test_sums_are_those_of_links_views_lists_and_rates(desk: Desk) -> None:
    rows = desk.activity(EVERYTHING).rows
    described = {row.group: row.joints for row in desk.describe(EVERYTHING, done_groups.parse("implanted")).rows}
    assert {row.period: row.primaries for row in rows} == described
    (linked,) = desk.linked(EVERYTHING).rows
    done = sum((row.revisions or 0) + (row.second_stages or 0) for row in rows)
    assert (done, sum(row.unlinked or 0 for row in rows)) == (linked.revisions, 4)
    chain = desk.statement("select count(*) filter (where sequence = 1), count(*) from revision_chain").rows[0]
    first, later = sum(row.first or 0 for row in rows), sum(row.later or 0 for row in rows)
    assert tuple(map(int, chain)) == (first, first + later)
    causes = desk.statement("select reason_group, sum(revisions)::integer from revision_causes group by all").rows
    report = desk.revisions(EVERYTHING, first=True)
    assert {row.reason: row.revisions for row in report.rows} == {group: int(n) for group, n in causes}


def test_rates_of_reasons_add_up_to_the_rate_of_the_year(desk: Desk) -> None:
    calendar = desk.rates(EVERYTHING, calendar=(2007, 2008)).windows
    assert calendar is not None
    for window, year in zip(calendar, ("2006", "2007", "2008"), strict=True):
        report = desk.revisions(parse(f"revised={year}", outcomes=True))
        assert sum(row.first or 0 for row in report.rows) == window.revisions
        assert report.rows[0].implant_years == pytest.approx(window.implant_years, rel=1e-12)
    both = desk.revisions(parse("revised=2007,2008", outcomes=True), done_groups.parse("class"))
    assert sum(row.first or 0 for row in both.rows) == sum(w.revisions or 0 for w in calendar[1:])
    by_class = {row.group: row.implant_years for row in both.rows}
    total = sum(years for years in by_class.values() if years is not None)
    assert total == pytest.approx(sum(w.implant_years or 0 for w in calendar[1:]), rel=1e-12)


def test_implant_years_are_those_of_a_plain_count_of_days(desk: Desk) -> None:
    revised = {str(one["patient"]): one["day"] for one in reversed(episodes())}
    days = 0
    for row in PRIMARIES:
        start = date.fromisoformat(row["operation_date"])
        end = min(revised.get(row["patient_id"], THROUGH), THROUGH)  # type: ignore[type-var]
        first, last = max(start, date(2006, 12, 31)), min(end, date(2007, 12, 31))  # type: ignore[type-var]
        days += max(0, (last - first).days)
    report = desk.revisions(parse("revised=2007", outcomes=True))
    assert report.rows[0].implant_years == pytest.approx(years_in(float(days)), rel=1e-12)


# Limits, against scipy.stats and R


def test_limits_of_shares_and_burden_are_exact(desk: Desk) -> None:
    """scipy.stats.binomtest(...).proportion_ci(method="exact")."""
    for row in desk.activity(EVERYTHING).rows:
        assert row.revisions is not None
        assert row.primaries is not None
        exact = scipy.stats.binomtest(row.revisions, row.revisions + row.primaries).proportion_ci(method="exact")
        assert (row.lower, row.upper) == pytest.approx((exact.low, exact.high), abs=1e-12)
    report = desk.revisions(EVERYTHING, done_groups.parse("year"))
    for part in (*report.rows, *report.work):
        assert part.revisions is not None
        assert part.of is not None
        exact = scipy.stats.binomtest(part.revisions, part.of).proportion_ci(method="exact")
        assert (part.lower, part.upper) == pytest.approx((exact.low, exact.high), abs=1e-12)


def test_limits_of_rates_are_exact(desk: Desk) -> None:
    """Garwood by scipy.stats.chi2: half of its quantiles at 2 n and 2 n + 2 degrees of freedom, over the years."""
    for row in desk.revisions(EVERYTHING, done_groups.parse("year")).rows:
        assert row.first is not None
        assert row.implant_years is not None
        lower = scipy.stats.chi2.ppf(0.025, 2 * row.first) / 2 if row.first else 0.0
        upper = scipy.stats.chi2.ppf(0.975, 2 * row.first + 2) / 2
        expected = 100 * np.array([lower, upper]) / row.implant_years
        assert (row.rate_lower, row.rate_upper) == pytest.approx(tuple(expected), rel=1e-9)


def test_burden_of_the_last_year_is_that_of_r(desk: Desk) -> None:
    """R 4: binom.test(4, 6)$conf.int, of four revisions among six operations."""
    row = desk.activity(EVERYTHING, done="2008").rows[0]
    assert (row.revisions, row.primaries) == (4, 2)
    assert (row.lower, row.upper) == pytest.approx((0.222778095503512, 0.956728131707258), abs=1e-12)


# What is withheld or refused


def test_small_counts_are_withheld_and_what_gives_them_away(store: Path) -> None:
    desk = Desk(store, policy=Policy(withhold_counts_under=5))
    rows = {row.period: row for row in desk.activity(EVERYTHING).rows}
    assert rows["2007"].revisions == 5
    assert (rows["2007"].first, rows["2007"].unlinked, rows["2007"].burden) == (None, None, None)
    assert rows["2007"].revisions_change is None
    for part in desk.revisions(EVERYTHING).rows:
        assert part.revisions is None or part.revisions == 0 or part.revisions >= 5
        assert (part.share is None) == (part.revisions is None)
    with pytest.raises(PolicyError):
        desk.revision_list(EVERYTHING)


@pytest.mark.parametrize(
    ("words", "more", "said"),
    [
        ("revised=2008", {}, "revised speaks of revisions alone"),
        ("ended=died", {}, "A cohort is chosen by what was known at implantation"),
        ("", {"per": "week"}, "not counted by week"),
        ("", {"done": "2008-03"}, "holds no year of these operations whole; they were done from 2006 to 2008"),
        ("", {"done": "yesterday"}, "yesterday is not a date"),
    ],
)
def test_what_cannot_be_counted_is_refused(desk: Desk, words: str, more: dict[str, str], said: str) -> None:
    with pytest.raises(FilterError, match=said):
        desk.activity(parse(words, outcomes=True), **more)


def test_groups_that_there_are_not_are_refused_with_those_there_are() -> None:
    with pytest.raises(FilterError, match="Revisions are not grouped by shoe"):
        done_groups.parse("shoe")
    with pytest.raises(FilterError, match="year is named twice"):
        done_groups.parse("year,class,year")


def test_rates_are_given_where_years_are_those_of_the_group(desk: Desk) -> None:
    assert desk.revisions(EVERYTHING, done_groups.parse("class")).rows[0].rate_withheld is None
    for words, by in (("hospital=H001", ""), ("", "hospital"), ("", "since"), ("", "reason"), ("revised!=2007", "")):
        rows = desk.revisions(parse(words, outcomes=True), done_groups.parse(by)).rows
        assert {row.per_100_implant_years for row in rows} == {None}
        assert all(row.rate_withheld for row in rows)


def test_two_periods_have_the_difference_of_their_shares(desk: Desk) -> None:
    rows = desk.revisions(parse("revised=2007,2008", outcomes=True), done_groups.parse("year")).rows
    shares = {(row.group, row.reason): row.share for row in rows}
    for row in rows:
        own, then = shares[row.group, row.reason], shares["2007", row.reason]
        assert own is not None
        assert then is not None
        assert row.difference == (None if row.group == "2007" else pytest.approx(own - then))
