"""Pages for people: all that a figure needs beside it, within 79 columns."""

import re

import pytest

from regdash import cohort as filters
from regdash import grouping
from regdash.output.listing import Listing
from regdash.output.people import as_text
from regdash.output.table import wide
from regdash.reports.desk import Desk
from regdash.signals.desk import SignalsDesk
from tests.cuts import joint, make_cut, random_joints


@pytest.fixture(scope="module")
def desk(tmp_path_factory):
    desk = SignalsDesk(
        make_cut(tmp_path_factory.mktemp("store"), random_joints(2500), held=[(3, "side-missing"), (None, "x")])
    )
    yield desk
    desk.close()


REPORTS = {
    "risk": lambda desk, c: desk.risk(c, grouping.parse("age:10,sex"), years=(1, 5, 10, 15, 22)),
    "one reason": lambda desk, c: desk.risk(c, grouping.parse("class"), reason="infection"),
    "standardised": lambda desk, c: desk.risk(
        c, grouping.parse("class"), years=(5, 10), difference=True, standardise=grouping.parse("age:20,sex")
    ),
    "landmark": lambda desk, c: desk.risk(c, grouping.parse("class,sex"), difference=True, given_unrevised=2),
    "verdicts": lambda desk, c: desk.risk(c, grouping.parse("technology"), years=(5, 10), ceiling=0.05, margin=0.2),
    "compare": lambda desk, c: desk.compare(c, grouping.parse("asa"), grouping.parse("age,sex,technology"), (1, 5)),
    "compare bearings": lambda desk, c: desk.compare(c, grouping.parse("technology"), grouping.parse("asa,bmi"), (1,)),
    "gap": lambda desk, c: desk.gap(c, grouping.parse("class"), 10),
    "gap in detail": lambda desk, c: desk.gap(c, grouping.parse("class"), 10, "patient", detail=True),
    "reasons": lambda desk, c: desk.reasons(c, grouping.parse("technology"), detail=True),
    "rates": lambda desk, c: desk.rates(c, grouping.parse("construct")),
    "describe": lambda desk, c: desk.describe(c, grouping.parse("diagnosis")),
    "implants": lambda desk, c: desk.implants(c),
    "screen": lambda desk, c: desk.screen("constructs", c),
    "implant": lambda desk, c: desk.implant("KT-001", c),
    "joints": lambda desk, c: desk.joints(c, limit=40),
    "joint": lambda desk, c: desk.joint(desk.joints(filters.parse("ended=revised", outcomes=True)).rows[0][0]),
}


@pytest.mark.parametrize("question", REPORTS)
@pytest.mark.parametrize("width", [79, 120])
def test_every_page_keeps_to_its_width(desk, question, width):
    cohort = filters.parse("joint=knee age=40..85 bmi=20..40 sex=female,male hospital!=H003", known=desk.known)
    text = as_text(REPORTS[question](desk, cohort), width)
    assert [line for line in text.splitlines() if wide(line) > width] == []
    assert not re.search(r" $", text, re.MULTILINE)


def test_a_page_says_what_was_asked_of_whom_and_how_it_was_made(desk):
    report = desk.risk(filters.parse("class=total"), grouping.parse("sex"))
    head, text = report.head, " ".join(as_text(report).split())
    assert text.startswith("Net revision risk, by sex cohort class total data cut 2024-12-31.1 joints ")
    assert f"{head.joints:,} in {head.patients:,} patients; {head.revisions} revised" in text
    assert (head.held_revisions, "1 revision held back" in text) == (1, True)
    assert f"median follow-up {head.median_follow_up:.1f} years" in text
    assert head.method in text
    assert all(caution in text for caution in head.cautions)


def test_a_percentage_has_one_decimal_and_its_limits_beside_it(desk):
    report = desk.risk(filters.parse("class=partial"), years=(10,))
    (row,) = report.rows
    risk, lower, upper = (f"{100 * value:.1f}" for value in (row.estimate, row.lower, row.upper))
    assert f"{risk} ({lower} to {upper})" in as_text(report)


def test_a_withheld_figure_points_to_the_sentence_that_says_why(tmp_path):
    desk = Desk(make_cut(tmp_path, [joint(days=100 + n) for n in range(39)]))
    text = as_text(desk.risk(filters.parse(""), years=(0.1, 9)))
    lines = text.splitlines()
    assert [line.split()[-2:] for line in lines if " withheld" in line and "[" in line][:2] == [
        ["withheld", "[1]"],
        ["withheld", "[2]"],
    ]
    assert "[1]  withheld: fewer than 40 joints at risk" in lines
    assert any(line.startswith("[2]  withheld: not reached") for line in lines)
    desk.close()


def test_a_table_without_rows_says_so(desk):
    assert "(none)" in as_text(desk.joints(filters.parse("age=120..130"))).splitlines()


def test_years_of_a_list_are_no_counts():
    listing = Listing("test", ("year", "birth_year", "revisions"), [(2024, None, 1234)])
    assert as_text(listing).splitlines()[-1].split() == ["2024", "–", "1,234"]


def test_a_wide_page_leaves_nothing_out(desk):
    assert "Left out" in as_text(desk.implants(filters.parse("")), 79)
    assert "Left out" not in as_text(desk.implants(filters.parse("")), 220)
