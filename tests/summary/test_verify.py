"""The same cut and edition give the same bytes wherever and whenever; what differs is told, with why."""

import json
import shutil
import subprocess
from pathlib import Path

import pytest

from regdash.cohort import parse
from regdash.signals.desk import SignalsDesk
from regdash.summary.output import REPRODUCTION
from regdash.summary.verify import verify
from tests.another_day import elsewhere
from tests.cli.asking import process, regdash
from tests.summary.made import Made


def contents(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_another_process_day_time_zone_and_locale_write_the_same_bytes(
    made: Made, tmp_path: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    env = elsewhere(tmp_path_factory.mktemp("clock"))
    words = ("summary", "2024q3", "--cut", "2024-12-31", "--for", "committee", "--out", tmp_path / "again")
    running = process(*words, "--store", made.store, env=env, stdout=subprocess.PIPE)
    _, stderr = running.communicate(timeout=300)
    assert running.returncode == 0, stderr
    assert contents(tmp_path / "again") == contents(made.folder)


@pytest.fixture
def folder(brief: Made, tmp_path: Path) -> Path:
    """A copy of the summary, to be spoilt."""
    return Path(shutil.copytree(brief.folder, tmp_path / "summary"))


def test_what_differs_is_told_file_by_file_and_cell_by_cell(brief: Made, folder: Path) -> None:
    table = folder / "tables" / "risk-by-class.csv"
    text = table.read_bytes().decode()
    first = text.splitlines()[1].split(",")[2]
    table.write_bytes(text.replace(f",{first},", ",7,", 1).encode())
    (folder / "summary.md").unlink()
    (folder / "letter.txt").write_text("added later")
    said = regdash("verify", folder, "--json", store=brief.store)
    assert said.code == 1
    found = {row["file"]: (row["verdict"], row["what differs"]) for row in said.json["rows"]}
    assert found["summary.md"] == ("missing", "–")
    assert found["letter.txt"] == ("not of the summary", "–")
    verdict, told = found["tables/risk-by-class.csv"]
    assert verdict == "changed since it was written"
    assert f"7 there, {first} now" in told
    assert len(found) == 3


def test_it_is_made_again_by_the_recorded_policy_whatever_the_store_says_now(brief: Made, tmp_path: Path) -> None:
    store = Path(shutil.copytree(brief.store, tmp_path / "store"))
    (store / "policy.toml").write_text("minimum_at_risk = 100\n")
    (store / "screening.toml").write_text('version = "2"\nstated_ratio = 1.5\n')
    found = verify(store, brief.folder)
    assert found.is_same
    assert [note.partition(" ")[0] for note in found.notes] == ["the", "the"]


def test_another_cut_under_the_same_name_is_named_as_the_reason(brief: Made, tmp_path: Path) -> None:
    store = Path(shutil.copytree(brief.store, tmp_path / "store"))
    manifest = store / "cuts" / "2024-12-31.1.json"
    facts = json.loads(manifest.read_text())
    manifest.write_text(json.dumps({**facts, "content_hash": "f" * 64, "known_as_of": "2025-03-01"}))
    found = verify(store, brief.folder)
    assert not found.is_same
    assert any(why.startswith("data cut 2024-12-31.1 is another") for why in found.why)
    assert {"summary.html", "summary.pdf", "summary.xlsx"} <= {one.file for one in found.found}


def test_an_edition_changed_in_the_folder_and_other_software_are_reasons(brief: Made, folder: Path) -> None:
    edition = folder / "edition.toml"
    edition.write_text(
        edition.read_text(encoding="utf-8").replace("rows_on_paper = 25", "rows_on_paper = 5"), encoding="utf-8"
    )
    record = json.loads((folder / REPRODUCTION).read_text())
    record["software"]["typst"] = "0.1.0"
    (folder / REPRODUCTION).write_text(json.dumps(record))
    found = verify(brief.store, folder)
    assert any(why.startswith("edition.toml in the folder was changed") for why in found.why)
    assert any(why.startswith("typst was 0.1.0, now ") for why in found.why)
    assert {one.file for one in found.found} >= {"edition.toml", "summary.html"}


@pytest.mark.parametrize("spoilt", ["", "[]", "{}", '{"format": 99}', "\xff"])
def test_a_damaged_record_is_refused_in_one_line(brief: Made, folder: Path, spoilt: str) -> None:
    (folder / REPRODUCTION).write_bytes(spoilt.encode("latin-1"))
    said = regdash("verify", folder, store=brief.store)
    assert said.code == 1
    assert len(said.stderr.splitlines()) == 1


def test_a_folder_that_is_not_there_is_told_from_one_that_holds_no_summary(brief: Made, tmp_path: Path) -> None:
    assert (
        regdash("verify", tmp_path / "gone", store=brief.store).stderr == f"There is no folder {tmp_path / 'gone'}.\n"
    )
    assert "is no summary, evidence or extract." in regdash("verify", tmp_path, store=brief.store).stderr


def test_a_summary_of_a_cut_that_is_gone_cannot_be_verified(brief: Made, folder: Path) -> None:
    record = json.loads((folder / REPRODUCTION).read_text())
    record["cut"]["name"] = "2020-12-31.1"
    (folder / REPRODUCTION).write_text(json.dumps(record))
    said = regdash("verify", folder, store=brief.store)
    assert said.code == 1
    assert said.stderr.startswith("What the summary was made from is not there: There is no data cut 2020-12-31.1")


def test_decisions_taken_later_leave_a_summary_as_it_was(brief: Made, tmp_path: Path) -> None:
    """It is made again with the decisions of its day; a new one has them, and says which day it is of."""
    store = Path(shutil.copytree(brief.store, tmp_path / "store"))
    before = json.loads((brief.folder / REPRODUCTION).read_text())["reviews"]["taken"]
    knees = parse(("joint=knee",))
    desk = SignalsDesk(store)
    signal = next(row.unit for row in desk.signals("implants", knees, compared=False).rows if row.is_listed)
    desk.decide(signal, knees, "under review", "asked for the records of five hospitals")
    desk.close()
    assert verify(store, brief.folder).is_same
    said = regdash("summary", "2024Q3", "--out", tmp_path / "new", store=store)
    assert said.code == 0
    page = (tmp_path / "new" / "summary.txt").read_text(encoding="utf-8")
    assert "under review: asked for the records of five hospitals" in page
    again = regdash("verify", tmp_path / "new", store=store)
    assert again.code == 0
    assert "Same: " in again.stdout
    record = json.loads((tmp_path / "new" / REPRODUCTION).read_text())
    assert record["reviews"]["taken"] == before + 1
    record["reviews"] = {**record["reviews"], "taken": 0, "hash": "0" * 12}
    (tmp_path / "new" / REPRODUCTION).write_text(json.dumps(record))
    (why,) = verify(store, tmp_path / "new").why
    assert why.endswith(f"are others: 0 then, {before + 1} now")
