"""`regdash quality`: each question on the command line, for people and for programs."""

from datetime import date

import pytest

from regdash.intake.receive import receive
from regdash.store.freeze import freeze
from tests.cli.asking import one_line, regdash
from tests.reports.quality_register import draw_register


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    folder = tmp_path_factory.mktemp("quality")
    draw_register(folder / "in", seed=3, joints=40)
    receive(folder / "store", [folder / "in"])
    freeze(folder / "store", date(2007, 12, 31))
    return folder / "store"


QUESTIONS = ("completeness", "delays", "triangle", "missing")


@pytest.mark.parametrize("question", QUESTIONS)
def test_json_and_csv_hold_the_same_rows(store, question):
    words = ("quality", question, "joint=knee,hip", "--by", "hospital")
    told = regdash(*words, "--json", store=store).json
    assert told["by"].startswith("joint,hospital")
    assert told["cohort"] == "joint=knee,hip"
    listed = regdash(*words, "--csv", store=store).csv
    assert [row["group"] for row in listed] == [row["group"] for row in told["rows"]]
    assert len(listed) > 3


@pytest.mark.parametrize("question", [*QUESTIONS, "feeds"])
def test_a_page_fits_its_width_and_says_its_method(store, question):
    said = regdash("quality", question, store=store)
    assert (said.code, said.stderr) == (0, "")
    assert "method" in said.stdout
    assert max(map(len, said.stdout.splitlines())) <= 79


def test_the_triangle_for_people_has_a_row_a_month_and_adds_up(store):
    rows = regdash("quality", "triangle", "joint=knee", "--months", "0", "--json", store=store).json["rows"]
    page = regdash("quality", "triangle", "joint=knee", "--months", "0", store=store).stdout.splitlines()
    body = [line.split() for line in page if line[:2] == "20"]
    assert len(body) == len({row["operated"] for row in rows})
    assert sum(int(line[-1].replace(",", "")) for line in body) == sum(row["operations"] for row in rows)


def test_the_triangle_of_quarters_may_be_read_in_shares(store):
    words = ("quality", "triangle", "joint=knee", "--months", "0", "--period", "quarter")
    rows = regdash(*words, "--shares", "--json", store=store).json["rows"]
    page = regdash(*words, "--shares", store=store).stdout.splitlines()
    first = next(line.split() for line in page if line[:2] == "20")
    shares = {row["months"] // 3: f"{100 * row['share']:.1f}" for row in rows if row["operated"] == first[0]}
    assert len(shares) > 1
    assert all(first[1 + lag] == share for lag, share in shares.items() if lag <= 6)
    assert any("share of those so far" in line for line in page)


def test_a_fault_is_marked_as_one(store):
    rows = regdash("quality", "completeness", "--by", "hospital,year", "--json", store=store).json["rows"]
    page = regdash("quality", "completeness", "--by", "hospital,year", store=store).stdout
    assert any(row["fault"] for row in rows)
    assert page.count(" fault\n") + page.count(" fault ") >= 1


def test_an_unknown_grouping_is_refused_in_one_line(store):
    assert "Records are not grouped by surgeon" in one_line(
        regdash("quality", "delays", "--by", "surgeon", store=store)
    )
