"""From a folder of submissions to a cut and to what it holds back, as an office types it."""

import json
import shutil
import subprocess
import sys

import pytest

from tests.cli.asking import one_line, regdash, words_in
from tests.intake.small_register import SmallRegister, primary, revision

HELD = words_in("submission hospital row rule severity text")
RECEIPT = words_in("submission sender table received accepted held rejected known_already")


@pytest.fixture(scope="module")
def once(tmp_path_factory):
    """Two hospitals' files: three primaries and a revision, one primary without its side; and a store of them."""
    folder = tmp_path_factory.mktemp("once")
    register = SmallRegister(folder / "inbox")
    register.catalogue()
    register.units()
    register.operations(
        "2020-04-10", [primary("H001-0000001", 1, "2020-01-10"), primary("H001-0000002", 2, "2020-02-10", side="")]
    )
    rows = [primary("H002-0000001", 3, "2020-03-01"), revision("H002-0000002", 1, "2020-03-20")]
    register.operations("2020-04-11", rows, hospital="H002")
    register.deaths("2020-04-12", {})
    assert regdash("receive", folder / "inbox", store=folder / "store").code == 0
    return folder


@pytest.fixture
def inbox(once, tmp_path):
    shutil.copytree(once / "inbox", tmp_path / "inbox")
    return tmp_path / "inbox"


@pytest.fixture
def taken_in(once, tmp_path):
    shutil.copytree(once / "store", tmp_path / "store")
    return tmp_path / "store"


def test_every_row_of_every_file_is_accounted_for(inbox, tmp_path):
    answer = regdash("receive", inbox, "--json", store=tmp_path / "store").json
    assert [list(row) for row in answer["rows"]][:1] == [RECEIPT]
    for row in answer["rows"]:
        assert row["received"] == row["accepted"] + row["held"] + row["rejected"] + row["known_already"]
    operations = [row for row in answer["rows"] if row["table"] == "operations"]
    assert [(row["submission"], row["received"], row["accepted"], row["held"]) for row in operations] == [
        ("H001-0001", 2, 1, 1),
        ("H002-0001", 2, 2, 0),
    ]


def test_taking_the_same_in_again_says_that_it_is_known(inbox, taken_in):
    said = regdash("receive", inbox, store=taken_in)
    assert said.stderr.endswith("0 submissions taken in, 5 known already.\n")


def test_people_see_the_receipt_by_table(inbox, tmp_path):
    said = regdash("receive", inbox, store=tmp_path / "store")
    line = next(line for line in said.stdout.splitlines() if line.startswith("operations"))
    assert line.split() == ["operations", "2", "4", "3", "1", "0", "0"]
    assert "5 submissions taken in, 0 known already." in said.stderr


def test_a_cut_is_made_and_listed(taken_in):
    made = regdash("freeze", "--through", "2020-03-31", "--json", store=taken_in)
    (row,) = made.json["rows"]
    assert (row["cut"], row["through"], row["known_as_of"]) == ("2020-03-31.1", "2020-03-31", "2020-04-12")
    assert (row["joints"], row["revisions"]) == (2, 1)
    assert regdash("cuts", "--json", store=taken_in).json["rows"] == [row]
    assert regdash("freeze", "--through", "2020-03-31", "--csv", store=taken_in).csv[0]["cut"] == "2020-03-31.2"


def test_a_cut_may_leave_out_what_came_in_later(taken_in):
    words = ["freeze", "--through", "2020-03-31", "--known-as-of", "2020-04-10", "--json"]
    assert regdash(*words, store=taken_in).json["rows"][0]["joints"] == 1


def test_a_cut_of_the_future_is_refused_and_none_is_made(taken_in):
    said = regdash("freeze", "--through", "2030-01-01", store=taken_in)
    assert said.code == 1
    assert "2030-01-01" in said.stderr.splitlines()[-1]
    assert said.stdout == ""
    assert list((taken_in / "cuts").glob("*.json")) == []


def test_what_is_held_is_told_with_its_rule_and_its_sentence(taken_in):
    assert regdash("freeze", "--through", "2020-03-31", store=taken_in).code == 0
    answer = regdash("held", "--json", store=taken_in).json
    assert [(row["row"], row["rule"]) for row in answer["rows"]] == [
        *((f"components:{n}", "operation-held") for n in (4, 5, 6)),
        ("operations:2", "side-missing"),
    ]
    row = answer["rows"][-1]
    assert list(row) == HELD
    assert [row[name] for name in HELD[:5]] == ["H001-0001", "H001", "operations:2", "side-missing", "hold"]
    assert "The side is missing" in row["text"]
    assert "H001-0000002" in row["text"]
    assert (answer["cut"], answer["total"]) == ("2020-03-31.1", 4)
    assert regdash("held", "--csv", store=taken_in).csv == answer["rows"]


def test_the_store_itself_tells_the_same_before_any_cut(taken_in):
    answer = regdash("held", "--live", "--json", store=taken_in).json
    assert [row["rule"] for row in answer["rows"]] == [*["operation-held"] * 3, "side-missing"]
    assert answer["cut"] is None


def test_held_rows_are_chosen_by_sender_and_rule(taken_in):
    def rows(*words):
        return regdash("held", "--live", "--json", *words, store=taken_in).json["rows"]

    assert len(rows("--hospital", "H001", "--rule", "side-missing")) == 1
    assert rows("--hospital", "H002") == []
    assert rows("--rule", "patient-form") == []
    assert rows("--limit", "0") == []


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--hospital", "H009"], "There is no sender H009. Nearest: H001, H002."),
        (["--rule", "sides-missing"], "There is no rule sides-missing. Nearest: "),
    ],
)
def test_a_sender_or_rule_that_is_not_there_is_refused(words, told, taken_in):
    said = regdash("held", "--live", *words, store=taken_in)
    assert said.code == 1
    assert one_line(said).startswith(told)


def test_people_see_how_many_rows_each_rule_holds(taken_in):
    page = regdash("held", "--live", store=taken_in).stdout
    assert "4 of 4 rows, the store as it is now." in page
    assert [line.split()[:3] for line in page.splitlines() if line.startswith(("operation-held", "side-missing"))] == [
        ["operation-held", "hold", "3"],
        ["side-missing", "hold", "1"],
    ]
    assert "The side is missing" in page
    assert all(len(line) <= 79 for line in page.splitlines())


def test_a_bad_file_is_one_line_and_leaves_the_store_as_it_was(inbox, taken_in):
    before = (taken_in / "registry.duckdb").read_bytes()
    folder = inbox / "H001-0001"
    later = inbox.parent / "later" / "H001-0002"
    later.mkdir(parents=True)
    for path in folder.iterdir():
        (later / path.name).write_bytes(path.read_bytes())
    envelope = json.loads((later / "envelope.json").read_text()) | {"id": "H001-0002", "sequence": 2}
    (later / "envelope.json").write_text(json.dumps(envelope))
    table = later / "operations.csv"
    table.write_text(table.read_text().replace("patient_id,birth_year", "birth_year,patient_id", 1))
    said = regdash("receive", later, store=taken_in)
    assert said.code == 1
    assert "operations.csv" in said.stderr.splitlines()[-1]
    assert "Traceback" not in said.stderr
    assert said.stdout == ""
    assert (taken_in / "registry.duckdb").read_bytes() == before


def test_a_store_that_somebody_writes_is_named_with_its_holder(taken_in):
    hold = f"""
import duckdb, sys
connection = duckdb.connect({str(taken_in / "registry.duckdb")!r})
print("held", flush=True)
sys.stdin.read()
"""
    with subprocess.Popen([sys.executable, "-c", hold], stdin=subprocess.PIPE, stdout=subprocess.PIPE) as holder:
        holder.stdout.readline()
        said = regdash("held", "--live", store=taken_in)
        holder.communicate()
    assert said.code == 1
    assert f"process {holder.pid}" in one_line(said)
