"""What is written down of the work of an office, as the command line shows it."""

import json
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from regdash.cli.place import _TOLD
from regdash.store.audit import audit_lines, verify
from regdash.store.cuts import list_cuts
from regdash.store.office import office_path
from tests.cli.asking import Said, one_line, regdash, words_in
from tests.cuts import make_cut, random_joints
from tests.intake.small_register import SmallRegister, primary

COLUMNS = words_in("line at who what subject outcome why account details previous_hash hash")


@pytest.fixture(scope="module")
def made_office(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What one hospital sent, two primaries and one of them without its side, with the feeds; and one cut of it."""
    folder = tmp_path_factory.mktemp("office")
    register = SmallRegister(folder / "inbox")
    register.catalogue()
    register.units()
    register.deaths("2020-04-12", {})
    rows = [primary("H001-0000001", 1, "2020-01-10"), primary("H001-0000002", 2, "2020-02-10", side="")]
    register.operations("2020-04-10", rows)
    assert regdash("receive", folder / "inbox", store=folder / "store").code == 0
    assert regdash("freeze", "--through", "2020-03-31", store=folder / "store").code == 0
    return folder / "store"


@pytest.fixture
def office(made_office: Path, tmp_path: Path) -> Path:
    """A store of one's own."""
    return Path(shutil.copytree(made_office, tmp_path / "office"))


@pytest.fixture
def cut_only(tmp_path: Path) -> Path:
    return make_cut(tmp_path / "cut_only", random_joints(50))


def trail(store: Path, *words: object) -> list[dict[str, object]]:
    said = regdash("audit", "--json", *words, store=store)
    assert (said.code, said.stderr) == (0, "")
    return said.json["rows"]


def test_taking_in_and_freezing_are_written_down(office):
    received, frozen = trail(office)
    assert (received["what"], received["outcome"]) == ("receive", "done")
    assert received["subject"] == "H001-0001, catalogue-0001, deaths-0001, units-0001"
    counts = received["details"]
    assert (counts["submissions"], counts["new"]) == (4, 4)
    assert counts["received"] == sum(counts[end] for end in ("accepted", "held", "rejected", "known_already"))
    (cut,) = list_cuts(office)
    assert (frozen["what"], frozen["subject"], frozen["outcome"]) == ("freeze", cut.cut, "done")
    assert frozen["details"]["content_hash"] == cut.content_hash


def test_what_was_refused_is_written_down_with_its_reason(office):
    refused = regdash("freeze", "--through", "2030-01-01", store=office)
    assert refused.code == 1
    regdash("receive", "no-such-folder", store=office)
    freezing, receiving = trail(office)[2:]
    assert freezing["outcome"] == f"refused: {one_line(refused)}"
    assert freezing["subject"] == "through 2030-01-01"
    assert str(receiving["outcome"]).startswith("refused: ")
    assert "through 2030-01-01: refused:" in " ".join(regdash("audit", store=office).stdout.split())


def test_a_refusal_makes_no_store(tmp_path):
    for words in (["receive", tmp_path / "nothing"], ["freeze", "--through", "2020-01-01"]):
        assert regdash(*words, store=tmp_path / "new").code == 1
    assert not (tmp_path / "new").exists()


def test_rows_that_leave_are_written_down_and_pages_for_people_are_not(cut_only):
    for words in (["joints", "class=partial"], ["risk", "--json"], ["describe", "--csv"], ["held"]):
        assert regdash(*words, store=cut_only).code == 0
    assert trail(cut_only) == []
    answer = regdash("joints", "class=partial", "--csv", store=cut_only)
    regdash("sql", "select 1 as one", "--json", store=cut_only)
    regdash("held", "--csv", store=cut_only)
    joints, sql, held = trail(cut_only)
    assert joints["details"] == {"filter": "class=partial", "form": "csv", "of": "joints", "rows": len(answer.csv)}
    assert joints["subject"] == sql["subject"] == held["subject"] == list_cuts(cut_only)[0].cut
    assert sql["details"]["statement"] == "select 1 as one"


def test_the_export_of_one_joint_names_no_patient(cut_only):
    joint = regdash("joints", "--json", "--limit", 1, store=cut_only).json["rows"][0]["joint_id"]
    assert regdash("joint", joint, "--json", store=cut_only).code == 0
    regdash("sql", f"select '{joint}'", "--json", store=cut_only)
    said = regdash("audit", "--csv", store=cut_only).stdout
    assert joint[:10] not in said
    assert said.count("[patient]") == 1
    assert joint[:10].encode() not in office_path(cut_only).read_bytes()


def test_copies_and_keys_are_written_down(office, tmp_path):
    assert regdash("backup", tmp_path / "copy", store=office).code == 0
    assert regdash("new-key", tmp_path / "a.key", store=office).code == 0
    assert regdash("restore", tmp_path / "copy", store=tmp_path / "again").code == 0
    assert [line["what"] for line in trail(office)[2:]] == ["backup", "key-made"]
    # A backup is made before its own line is: the restored trail goes on from there, and is whole.
    assert [line["what"] for line in trail(tmp_path / "again")[2:]] == ["restore"]
    assert verify(tmp_path / "again").fault is None


def unwritable(store: Path) -> None:
    """Put a folder in the place of the office file, which no account can write, not even root."""
    office_path(store).mkdir()


def test_who_cannot_write_the_trail_exports_all_the_same_and_is_told(cut_only):
    unwritable(cut_only)
    said = regdash("joints", "--json", store=cut_only)
    assert said.code == 0
    assert len(said.json["rows"]) == 50
    (line,) = said.stderr.splitlines()
    assert line.startswith("This export is not in the audit trail.")
    assert "office.sqlite" in line


def test_an_act_that_cannot_be_written_down_is_not_done(office):
    before = {path.name for path in (office / "cuts").iterdir()}
    office_path(office).unlink()
    unwritable(office)
    lost, refused = regdash("freeze", "--through", "2020-02-28", store=office).stderr.splitlines()
    assert "is missing beside office.heads" in lost
    assert "office.sqlite could not be used" in refused
    assert {path.name for path in (office / "cuts").iterdir()} == before


def test_lines_are_listed_by_day_and_by_act(office):
    assert [line["what"] for line in trail(office, "--what", "freeze")] == ["freeze"]
    assert trail(office, "--since", "2090-01-01") == []
    assert [line["line"] for line in trail(office, "--limit", 1)] == [2]
    assert trail(office, "--limit", 0) == []


def test_people_and_programs_read_the_same_trail(office):
    page = regdash("audit", store=office).stdout
    assert "2 of 2 lines" in page
    assert all(len(line) <= 79 for line in page.splitlines())
    rows = regdash("audit", "--csv", store=office).csv
    assert [list(row) for row in rows] == [COLUMNS] * 2
    assert [row["hash"] for row in rows] == [line["hash"] for line in trail(office)]
    assert json.loads(rows[0]["details"]) == trail(office)[0]["details"]


def verified(store: Path, *words: object) -> Said:
    return regdash("audit", "--verify", *words, store=store)


def test_a_whole_trail_is_said_to_be_whole_with_its_head(office):
    head = audit_lines(office)[-1].hash
    assert verified(office, "--json").json["rows"] == [{"lines": 2, "hash": head}]
    page = verified(office)
    assert (page.code, head[:16] in page.stdout) == (0, True)
    assert verified(office, "--head", head[:16]).code == 0


def test_a_changed_line_is_named(office):
    with closing(sqlite3.connect(office_path(office))) as file, file:
        file.execute("drop trigger audit_lines_are_not_changed")
        file.execute("update audit_lines set who = 'nobody' where line = 1")
    said = verified(office)
    assert said.code == 1
    assert "Line 1 was changed" in one_line(said)


def test_a_head_that_is_not_there_is_told(office):
    said = verified(office, "--head", "0123456789abcdef")
    assert said.code == 1
    assert "0123456789abcdef" in one_line(said)


@pytest.mark.parametrize(
    "words",
    [["--what", "rumour"], ["--head", "abc"], ["--verify", "--what", "freeze"], ["--verify", "--limit", "0"]],
)
def test_wrong_usage_is_told(office, words):
    assert regdash("audit", *words, store=office).code == 2


def test_a_folder_that_is_no_store_has_no_trail(tmp_path):
    for words in ([], ["--verify"]):
        said = regdash("audit", *words, store=tmp_path)
        assert said.code == 1
        assert "There is no store in" in one_line(said)


def test_the_trail_can_be_read_while_it_is_written(office):
    with closing(sqlite3.connect(office_path(office), isolation_level=None)) as file:
        file.execute("pragma journal_mode = wal")
        file.execute("begin immediate")
        assert len(trail(office)) == 2
        file.execute("rollback")


# ---- names of cohorts, and what nobody should type --------------------------------------------


def test_names_given_and_taken_away_are_in_the_trail_with_their_words_and_so_is_a_refusal(office):
    assert regdash("cohorts", "save", "men", "sex=male", "--note", "each spring", store=office).code == 0
    lines = "men: sex=male\nold: age=80..\n"
    assert regdash("cohorts", "save", "--from", "-", store=office, stdin=lines).code == 0
    assert regdash("cohorts", "remove", "@Men", store=office).code == 0
    assert regdash("cohorts", "remove", "nobody", store=office).code == 1
    saved, from_file, removed, refused = trail(office)[2:]
    assert [saved[key] for key in ("what", "subject", "why", "outcome")] == [
        "cohort-saved",
        "men",
        "each spring",
        "done",
    ]
    assert saved["details"] == {"lines": [1], "words": {"men": "sex=male"}}
    assert (from_file["subject"], from_file["details"]["words"]) == ("men, old", {"men": "sex=male", "old": "age=80.."})
    assert (removed["what"], removed["subject"], removed["details"]["words"]) == (
        "cohort-removed",
        "men",
        {"men": "sex=male"},
    )
    assert refused["outcome"].startswith("refused: No cohort is named nobody.")
    assert verify(office).faulty_line is None


@pytest.mark.parametrize(
    "words",
    [
        ("cohorts", "save", "men", "sex=male", "--note", "for 19450312-1234"),
        ("freeze", "--through", "2020-03-31", "--because", "born 12.03.1945, wrong side"),
    ],
)
def test_a_number_of_a_person_is_refused_wherever_it_is_typed_and_stands_nowhere(office, words):
    refused = regdash(*words, store=office)
    assert refused.code == 1
    assert "seems to hold a person's number or date of birth" in one_line(refused)
    kept = json.dumps(trail(office), ensure_ascii=False) + office_path(office).read_bytes().decode("latin-1")
    for number in ("19450312", "450312-1234", "12.03.1945"):
        assert number not in kept
    assert "[number]" in kept


def test_a_number_is_hidden_in_the_trail_though_the_act_was_refused_for_something_else(office):
    words = ("links", "accept", "H001-0000009", "H001-0000001", "--why", "the card says 450312-1234")
    assert "seems to hold" not in one_line(regdash(*words, store=office))
    assert trail(office)[-1]["why"] == "the card says [number]"


def test_an_office_file_that_is_gone_is_told_in_one_line_before_anything_else(office):
    assert regdash("cohorts", "save", "men", "sex=male", store=office).code == 0
    office_path(office).unlink()
    for words in (("risk", "--years", "1"), ("cohorts", "list"), ("receive", office / "nowhere")):
        _TOLD.clear()
        said = regdash(*words, store=office).stderr
        first, *rest = said.splitlines()
        assert first.startswith("office.sqlite is missing beside office.heads: decisions, requests and names are not")
        assert not any("is missing beside" in line for line in rest)
    office_path(office).touch()


def test_a_store_that_nobody_wrote_in_has_lost_nothing(cut_only):
    assert regdash("risk", "--years", "1", store=cut_only).stderr == ""
