"""What one hospital or surgeon gets: its own figures as the office has them, and of others nothing that is small."""

import csv
import json
import re
from itertools import pairwise
from pathlib import Path

import pytest

from regdash.cohort import parse
from regdash.reports.model import ReasonRow, RiskRow
from regdash.reports.policy import Policy
from regdash.summary.disclosure import hidden_reasons, reasons_of_others, risks_of_others
from tests.cli.asking import one_line, regdash
from tests.summary.made import Made

POLICY = Policy(withhold_counts_under=5)
TEXTS = (".html", ".md", ".txt", ".csv", ".json", ".svg", ".toml")


@pytest.fixture(scope="module")
def hospital(made: Made, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of one hospital."""
    folder = tmp_path_factory.mktemp("editions") / "H001"
    words = ("summary", "2024Q3", "--for", "hospital:h001", "--out", folder)
    said = regdash(*words, "--withheld", folder.with_name("withheld.csv"), store=made.store)
    assert said.code == 0, said.stderr
    return folder


def rows_of(folder: Path, name: str) -> list[dict[str, str]]:
    with (folder / "tables" / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_own_figures_are_those_of_the_command_line(made: Made, hospital: Path) -> None:
    own = [row for row in rows_of(hospital, "own-risk-total-knees") if row["group"] == "own"]
    words = ("units", "hospitals", "joint=knee", "class=total", "--code", "H001", "--years", "1,3,5,10", "--json")
    told = [row for row in regdash(*words, store=made.store).json["rows"] if row["group"] == "H001"]
    assert [(int(row["revisions"]), int(row["at_risk"])) for row in own] == [
        (row["revisions"], row["at_risk"]) for row in told
    ]
    counted = rows_of(hospital, "own-primaries")
    joints = regdash("describe", "hospital=H001", "joint=knee", "--json", store=made.store).json["joints"]
    assert sum(int(row["in_the_cut"]) for row in counted if row["joint"] == "knee") == joints


def test_of_others_no_count_stands_in_any_table_and_no_figure_that_tells_a_small_one(
    made: Made, hospital: Path
) -> None:
    for name, words in (("total-knees", "joint=knee class=total"), ("total-hips", "joint=hip class=total")):
        told = made.desk.unit_risk("hospitals", "H001", parse(tuple(words.split())), (1, 3, 5, 10))
        truth = {row.years: row.revisions for row in told.rows if row.group == "all others"}
        others = [row for row in rows_of(hospital, f"own-risk-{name}") if row["group"] == "all others"]
        assert {row[name] for row in others for name in ("revisions", "at_risk")} <= {"withheld", "–"}
        assert all(len(row["estimate"]) <= len("0.123") or row["estimate"] == "withheld" for row in others)
        shown = [0, *(truth[float(row["years"])] for row in others if row["estimate"] != "withheld")]
        assert all(later - sooner == 0 or later - sooner >= 5 for sooner, later in pairwise(shown))


def test_no_other_hospital_and_no_surgeon_is_named_in_any_file(made: Made, hospital: Path) -> None:
    known = set(made.desk.known["hospital"]) | set(made.desk.known["surgeon"])
    for path in hospital.rglob("*"):
        if path.suffix in TEXTS:
            named = set(re.findall(r"\b[HS]\d{3,4}\b", path.read_text(encoding="utf-8"))) & known
            assert named <= {"H001"}, path.name
            assert "received and held back" not in path.read_text(encoding="utf-8"), path.name  # of the whole register


def test_it_is_made_again_byte_for_byte(made: Made, hospital: Path) -> None:
    assert regdash("verify", hospital, store=made.store).code == 0
    record = json.loads((hospital / "reproduction.json").read_text(encoding="utf-8"))
    assert record["recipient"] == "hospital:H001"


def test_a_surgeon_gets_a_private_edition_and_a_list_where_the_edition_says_so(made: Made, tmp_path: Path) -> None:
    code = next(code for code in made.desk.known["surgeon"] if code.startswith("S0011"))
    said = regdash("summary", "2024Q3", "--for", f"surgeon:{code}", "--out", tmp_path / "own", store=made.store)
    assert said.code == 0, said.stderr
    text = (tmp_path / "own" / "summary.txt").read_text(encoding="utf-8")
    assert "This edition is private" in text
    assert "not listed" in text
    assert not list((tmp_path / "own" / "tables").glob("own-joints*"))


def risk(years: float, at_risk: int, revisions: int) -> RiskRow:
    return RiskRow("all others", years, at_risk, revisions, 0.1, 0.05, 0.2)


def test_a_step_between_two_figures_is_as_small_as_a_count() -> None:
    """Revised by 1, 3, 5 and 10 years: 7, 9, 13 and 13. By 3 years 2 more would be told; by 5 years 6 more may be."""
    kept = risks_of_others(POLICY, [risk(1, 900, 7), risk(3, 800, 9), risk(5, 700, 13), risk(10, 4, 13)])
    assert [row.estimate for row in kept] == [0.1, None, 0.1, None]
    assert all(row.revisions is None and row.at_risk is None for row in kept)
    assert {row.withheld for row in kept} == {None, "a count of 1 to 4, or a figure that would tell one"}


def test_beside_a_small_reason_another_goes_and_nothing_tells_which_is_small() -> None:
    rows = [
        ReasonRow("all", reason, 10.0, 400, revisions, 0.2, incidence, 0.01, 0.09)
        for reason, revisions, incidence in (("wear", 30, 0.06), ("infection", 8, 0.02), ("breakage", 2, 0.01))
    ]
    kept = reasons_of_others(POLICY, 4, rows, [30, 8, 2])
    assert [(row.reason, row.incidence) for row in kept] == [("wear", 0.06), ("breakage", None), ("infection", None)]
    assert kept[1].withheld == kept[2].withheld
    assert all(row.share is None and row.revisions is None for row in kept)


def test_what_is_hidden_of_a_total_is_as_wide_as_is_stated_for_who_knows_the_total() -> None:
    """4 and 1 add up to 5, so each would be 1 to 4, three apart: a third goes with them."""
    hidden = hidden_reasons(POLICY, 4, [30, 8, 4, 1, 0], 43)
    assert hidden == [False, True, True, True, False]
    splits = [(a, b, c) for a in range(1, 14) for b in range(1, 14) for c in range(1, 14) if a + b + c == 13]
    assert all(max(split[n] for split in splits) - min(split[n] for split in splits) >= 4 for n in range(3))


def test_the_office_may_list_what_was_withheld_and_never_in_the_recipients_folder(
    made: Made, hospital: Path, tmp_path: Path
) -> None:
    with hospital.with_name("withheld.csv").open(encoding="utf-8", newline="") as file:
        kept = list(csv.DictReader(file))
    assert {row["recipient"] for row in kept} == {"hospital:H001"}
    table = [row for row in kept if row["table"] == "own-risk-total-hips"]
    told = made.desk.unit_risk("hospitals", "H001", parse(("joint=hip", "class=total")), (1, 3, 5, 10))
    truth = {f"by {row.years:g} year{'s' * (row.years > 1)}": row.revisions for row in told.rows[4:]}
    assert table
    assert all(int(row["count"]) == truth[row["column"]] for row in table)
    assert not [path for path in hospital.rglob("*") if "withheld" in path.name]
    inside = tmp_path / "out" / "withheld.csv"
    words = ("summary", "2024Q3", "--for", "hospital:H001", "--out", tmp_path / "out", "--withheld", inside)
    said = regdash(*words, store=made.store)
    assert said.code == 1
    assert "for the office alone" in one_line(said)
    assert not (tmp_path / "out").exists()
