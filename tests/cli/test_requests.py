"""The register of requests at the command line: written down, answered with a checksum, listed, counted by quarter."""

import json
from pathlib import Path

import pytest

from regdash.store.checksums import checksum_of
from tests.cli.asking import one_line, regdash


@pytest.fixture
def store(tmp_path: Path) -> Path:
    folder = tmp_path / "store"
    folder.mkdir()
    return folder


def test_a_request_is_written_down_answered_and_closed(store, tmp_path):
    words = ("add", "maker", "our knees by year", "--code", "M03", "--received", "2024-07-01", "--due", "2024-07-20")
    (row,) = regdash("requests", *words, "--json", store=store).json["rows"]
    assert (row["request"], row["state"], row["kind"], row["code"]) == ("R001", "overdue", "maker", "M03")
    given = tmp_path / "answer.csv"
    given.write_text("a\r\n1\r\n")
    (row,) = regdash("requests", "answer", "r1", "--with", given, "--on", "2024-07-12", "--csv", store=store).csv
    assert (row["state"], row["answered"], row["days"], row["given"]) == ("answered", "2024-07-12", "11", "answer.csv")
    assert row["checksum"] == checksum_of(given)
    assert regdash("requests", "close", "R001", "--why", "all sent", "--on", "2024-08-01", store=store).code == 0
    lines = regdash("requests", "show", "R001", "--json", store=store).json["rows"]
    assert [(line["act"], line["day"]) for line in lines] == [
        ("received", "2024-07-01"),
        ("answered", "2024-07-12"),
        ("closed", "2024-08-01"),
    ]
    page = regdash("requests", "show", "R001", store=store).stdout
    assert "R001, asked by: maker M03; closed, due 2024-07-20, first answered after 11\ndays." in page


def test_no_request_is_answered_with_a_folder_that_was_changed(store, tmp_path):
    """A folder of ours says what its files were; of any other nothing is known, and its checksum is kept."""
    regdash("requests", "add", "maker", "our knees by year", "--code", "M03", store=store)
    folder = tmp_path / "extract"
    folder.mkdir()
    (folder / "data.csv").write_bytes(b"a\r\n1\r\n")
    record = {"files": {"data.csv": checksum_of(folder / "data.csv")}}
    (folder / "reproduction.json").write_text(json.dumps(record), encoding="utf-8")
    (folder / "data.csv").write_bytes(b"a\r\n2\r\n")
    said = regdash("requests", "answer", "R001", "--with", folder, store=store)
    assert said.code == 1
    assert "data.csv is not as it was written" in one_line(said)
    assert regdash("requests", "list", "--json", store=store).json["rows"][0]["state"] == "open"
    (folder / "data.csv").write_bytes(b"a\r\n1\r\n")
    assert regdash("requests", "answer", "R001", "--with", folder, store=store).code == 0


def test_a_past_day_shows_what_had_happened_by_then(store):
    regdash("requests", "add", "press", "the best hospital", "--received", "2024-07-01", store=store)
    regdash("requests", "answer", "R001", "--note", "no hospital is ranked", "--on", "2024-07-05", store=store)
    regdash("requests", "add", "patient", "how long do knees last", "--received", "2024-07-06", store=store)
    (row,) = regdash("requests", "list", "--as-of", "2024-07-04", "--json", store=store).json["rows"]
    assert (row["state"], row["answered"], row["days"], row["given"]) == ("open", None, None, None)
    found = regdash("requests", "list", "--state", "answered", "--json", store=store).json["rows"]
    assert [row["request"] for row in found] == ["R001"]
    assert "The register has none of these." in regdash("requests", "list", "--kind", "maker", store=store).stdout


def test_a_quarter_is_counted_by_kind_and_again_as_it_was(store):
    for day in ("2024-07-01", "2024-08-01"):
        regdash("requests", "add", "press", "the best hospital", "--received", day, store=store)
    regdash("requests", "answer", "R001", "--note", "see the public edition", "--on", "2024-07-05", store=store)
    before = regdash("requests", "times", "2024Q3", "--json", store=store).json
    press, every = before["rows"]
    assert (press["kind"], press["received"], press["answered"], press["median_days"], press["open"]) == (
        *("press", 2, 1, 4),
        1,
    )
    assert {**every, "kind": "press"} == press
    regdash("requests", "answer", "R002", "--note", "the same", "--on", "2024-08-02", store=store)
    assert regdash("requests", "times", "2024Q3", "--json", store=store).json["rows"] != before["rows"]
    assert regdash("requests", "times", "2024Q3", "--up-to-line", "3", "--json", store=store).json == before


def test_what_cannot_be_is_one_line_and_writes_nothing(store, tmp_path):
    for words, told in (
        (("answer", "R001", "--note", "x"), "There is no request R001. The register is empty."),
        (("add", "press", "what Mr Miller did"), "Word 2 of the text looks like the name of a person"),
        (("times", "2024Q5"), "2024Q5 is not a date."),
    ):
        said = regdash("requests", *words, store=store)
        assert (said.code, said.stdout) == (1, "")
        assert one_line(said).startswith(told)
    for words in (("add", "neighbour", "x"), ("answer", "R001", "--with", tmp_path / "gone"), ("list", "--state", "x")):
        said = regdash("requests", *words, store=store)
        assert said.code == 2
        one_line(said)
    assert list(store.iterdir()) == []
