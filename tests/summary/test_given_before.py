"""What an office gave out before: it is asked for where it counts, and settings that must agree do."""

import csv
import shutil
from pathlib import Path

import pytest

from regdash.store.connect import registry_path
from regdash.summary.given_before import given_before
from tests.cli.asking import one_line, regdash
from tests.summary.attacked import LATER, SOONER, two_cuts
from tests.summary.made import Made

LISTED = """
version = "1"
title = "Own"
joints = ["knee", "hip"]
years = [1]
reason_years = 5
horizon = 5
rows_on_paper = 2
list_own_joints = true
sections = ["opening", "own-activity"]
"""
SHORT = """
version = "1"
title = "Ours"
joints = ["knee"]
years = [1]
reason_years = 5
horizon = 5
rows_on_paper = 25
sections = ["withheld"]
"""


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with the cuts of two quarters, and a public edition that is quick to make."""
    folder = two_cuts(tmp_path_factory.mktemp("given") / "store", 2, 250)
    (folder / "editions").mkdir()
    (folder / "editions" / "committee.toml").write_text(SHORT)
    registry_path(folder).touch()  # acts are written down where there is a store
    return folder


def test_a_quarter_told_again_is_refused_until_the_first_is_named(store: Path, tmp_path: Path) -> None:
    words = ("summary", "2024Q3", "--for", "public", "--out")
    assert regdash(*words, tmp_path / "first", "--cut", SOONER, store=store).code == 0
    assert [(one.quarter, one.cut) for one in given_before(store)] == [("2024Q3", SOONER)]
    assert regdash(*words, tmp_path / "same cut", "--cut", SOONER, store=store).code == 0
    said = regdash(*words, tmp_path / "again", "--cut", LATER, store=store)
    assert said.code == 1
    assert f"Everybody was told 2024Q3 on {given_before(store)[0].day}, from data cut {SOONER}." in one_line(said)
    assert not (tmp_path / "again").exists()
    named = regdash(*words, tmp_path / "again", "--cut", LATER, "--previous", tmp_path / "first", store=store)
    assert named.code == 0
    assert "name its folder" not in named.stderr
    assert regdash("verify", tmp_path / "again", store=store).code == 0
    assert regdash(*words, tmp_path / "never out", "--cut", LATER, "--first", store=store).code == 0


def test_the_next_quarter_is_told_with_a_warning(store: Path, tmp_path: Path) -> None:
    words = ("summary", "2024Q4", "--for", "public", "--cut", LATER, "--out")
    regdash("summary", "2024Q3", "--for", "public", "--cut", SOONER, "--out", tmp_path / "before", store=store)
    said = regdash(*words, tmp_path / "next", store=store)
    assert said.code == 0
    assert f"from data cut {SOONER}: name its folder with --previous DIR" in said.stderr
    assert "name its folder" not in regdash(*words, tmp_path / "more", "--first", store=store).stderr


def test_previous_and_first_are_not_for_other_readers(store: Path, tmp_path: Path) -> None:
    for more in (("--first",), ("--previous", tmp_path)):
        said = regdash("summary", "2024Q4", "--for", "hospital:H001", "--out", tmp_path / "x", *more, store=store)
        assert said.code == 2
        assert "what everybody gets" in said.stderr


def test_the_committee_lists_what_everybody_is_not_told_by_the_same_limits(store: Path, tmp_path: Path) -> None:
    committee = store / "editions" / "committee.toml"
    committee.write_text(SHORT.replace("sections", "withhold_counts_under = 10\nsections"))
    said = regdash("summary", "2024Q3", "--cut", SOONER, "--out", tmp_path / "office", store=store)
    committee.write_text(SHORT)
    assert said.code == 1
    assert "withhold_counts_under is 10 in committee.toml and 5 in public.toml" in one_line(said)


def test_own_joints_are_listed_where_the_edition_says_so_and_that_is_written_down(made: Made, tmp_path: Path) -> None:
    store = Path(shutil.copytree(made.store, tmp_path / "store"))
    (store / "editions").mkdir(exist_ok=True)
    registry_path(store).touch()
    for kind, code in (("hospital", "H001"), ("surgeon", made.desk.known["surgeon"][0])):
        (store / "editions" / f"{kind}.toml").write_text(LISTED)
        said = regdash("summary", "2024Q3", "--for", f"{kind}:{code}", "--out", tmp_path / kind, store=store)
        assert said.code == 0, said.stderr
        listed = [
            row
            for path in (tmp_path / kind / "tables").glob("own-joints-*.csv")
            for row in csv.DictReader(path.read_text(encoding="utf-8").splitlines())
        ]
        asked = [
            row["joint_id"]
            for joint in ("knee", "hip")
            for row in regdash(
                "joints", f"{kind}={code}", f"joint={joint}", "implanted=2024Q3", "--csv", store=store
            ).csv
        ]
        assert sorted(row["joint_id"] for row in listed) == sorted(asked)
        (last,) = [line for line in _exports(store) if line["of"] == f"summary 2024Q3 for {kind}:{code}"]
        assert last.get("joints_listed", 0) == len(listed)
        assert regdash("verify", tmp_path / kind, store=store).code == 0


def _exports(store: Path) -> list[dict]:
    lines = regdash("audit", "--json", store=store).json["rows"]
    return [line["details"] for line in lines if line["what"] == "export" and line["details"]]


def test_all_makers_get_what_each_gets_alone(store: Path, tmp_path: Path) -> None:
    words = ("summary", "2024Q4", "--cut", LATER, "--out")
    said = regdash(*words, tmp_path / "all", "--for", "all-makers", "--withheld", tmp_path / "w.csv", store=store)
    assert said.code == 0, said.stderr
    assert sorted(path.name for path in (tmp_path / "all").iterdir()) == ["M01", "M02"]
    assert regdash(*words, tmp_path / "one", "--for", "maker:M02", store=store).code == 0
    for path in (tmp_path / "one").rglob("*.csv"):
        assert path.read_bytes() == (tmp_path / "all" / "M02" / path.relative_to(tmp_path / "one")).read_bytes()
    with (tmp_path / "w.csv").open(encoding="utf-8", newline="") as file:
        kept = list(csv.DictReader(file))
    assert {row["recipient"] for row in kept} == {"maker:M01", "maker:M02"}
    assert all(row["count"].isdigit() for row in kept)
