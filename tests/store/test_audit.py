"""The audit trail: lines are added by any number of processes, and whatever was done to them later is found."""

import hashlib
import json
import re
import sqlite3
import subprocess
import sys
from contextlib import closing
from dataclasses import asdict, replace
from pathlib import Path

import pytest

from regdash.errors import StoreError
from regdash.store.audit import AuditLine, account, append, audit_lines, heads_path, verify
from regdash.store.office import office_path

CHECKOUT = Path(__file__).parent.parent.parent


@pytest.fixture
def store(tmp_path: Path) -> Path:
    """Nine lines: subjects S1 to S9."""
    for number in range(1, 10):
        append(tmp_path, "receive", subject=f"S{number}")
    return tmp_path


def forge(store: Path, *changes: str, heads: bool = False) -> None:
    """Do as somebody would who has the file and a database program: the triggers go first."""
    with closing(sqlite3.connect(office_path(store))) as file, file:
        for (name,) in file.execute("select name from sqlite_master where type = 'trigger'").fetchall():
            file.execute(f"drop trigger {name}")
        for change in changes:
            file.execute(change)
    if heads:
        heads_path(store).unlink()


def test_a_line_says_who_when_what_why_and_how_it_ended(tmp_path, monkeypatch):
    monkeypatch.setenv("REGDASH_USER", "analyst 7")
    append(tmp_path, "freeze", "2024-12-31.1", "quarterly report", "done", {"joints": 12})
    (line,) = audit_lines(tmp_path)
    assert (line.line, line.who, line.what, line.subject) == (1, "analyst 7", "freeze", "2024-12-31.1")
    assert (line.why, line.outcome, json.loads(line.details)) == ("quarterly report", "done", {"joints": 12})
    assert line.account == account()
    assert re.fullmatch(r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}Z", line.at)  # ISO 8601, UTC


def test_without_a_name_it_is_the_account_that_did_it(tmp_path, monkeypatch):
    monkeypatch.delenv("REGDASH_USER", raising=False)
    line = append(tmp_path, "backup")
    whoami = subprocess.run(["id", "-un"], capture_output=True, text=True, check=True).stdout.strip()
    assert line.who == line.account == whoami


def test_a_hash_is_what_anybody_computes_from_the_line(store):
    """SHA-256 of the JSON that `jq -cS 'del(.hash)'` prints of a line, which is in ASCII here."""
    lines = audit_lines(store)
    for before, line in zip([None, *lines], lines):
        said = {name: value for name, value in asdict(line).items() if name != "hash"}
        text = json.dumps(said, sort_keys=True, separators=(",", ":"))
        assert line.hash == hashlib.sha256(text.encode()).hexdigest()
        assert line.previous_hash == (before.hash if before else "0" * 64)


def test_no_line_names_a_patient(tmp_path):
    patient = "P123456789"
    line = append(tmp_path, "export", f"joint {patient}-KL", f"asked by {patient}", f"no {patient}", {"of": patient})
    assert "123456789" not in json.dumps(asdict(line))
    assert line.subject == "joint [patient]-KL"
    assert patient.encode() not in office_path(tmp_path).read_bytes()


def test_any_text_can_be_written(tmp_path):
    why = 'Überprüft; "zitiert", \'; drop table audit_lines; -- \N{SNOWMAN} \udc80 \0'
    append(tmp_path, "correction", why=why)
    assert audit_lines(tmp_path)[0].why == why.replace("\udc80", "?")
    assert verify(tmp_path).fault is None


def test_an_act_that_is_not_listed_is_a_bug(tmp_path):
    with pytest.raises(ValueError, match="rumour"):
        append(tmp_path, "rumour")


@pytest.mark.parametrize(
    "change",
    [
        "update audit_lines set why = 'else' where line = 3",
        "delete from audit_lines where line = 9",
        "insert into audit_lines select 11, at, who, account, what, subject, why, outcome, details, hash, 'x'"
        " from audit_lines where line = 9",
        "insert into audit_lines select 10, at, who, account, what, subject, why, outcome, details, 'x', 'x'"
        " from audit_lines where line = 9",
        "insert or replace into audit_lines select * from audit_lines where line = 3",
    ],
)
def test_the_file_itself_forbids_all_but_adding_at_the_end(store, change):
    with closing(sqlite3.connect(office_path(store))) as file, pytest.raises(sqlite3.IntegrityError, match="append"):
        file.execute(change)


def test_a_trail_that_nobody_touched_is_whole(store):
    verdict = verify(store)
    assert (verdict.lines, verdict.fault) == (9, None)
    assert verdict.head == audit_lines(store)[-1].hash


def test_a_store_without_a_trail_is_whole(tmp_path):
    assert verify(tmp_path).lines == 0


@pytest.mark.parametrize("column", [name for name in AuditLine.__dataclass_fields__ if name not in ("line", "hash")])
def test_a_change_of_anything_is_found_in_its_line(store, column):
    forge(store, f"update audit_lines set {column} = 'else' where line = 4")
    verdict = verify(store)
    assert verdict.faulty_line == 4
    assert "Line 4 was changed" in str(verdict.fault)


def insert(place: int) -> list[str]:
    """Put a copy of the line before at a place, and give the later ones higher numbers."""
    return [
        f"update audit_lines set line = -line where line >= {place}",
        f"insert into audit_lines select {place}, at, who, account, what, 'forged', why, outcome, details, hash, 'x'"
        f" from audit_lines where line = {place - 1}",
        "update audit_lines set line = 1 - line where line < 0",
    ]


REMOVED_AND_RENUMBERED = [
    "delete from audit_lines where line = 4",
    "update audit_lines set line = -line where line > 4",
    "update audit_lines set line = -line - 1 where line < 0",
]


@pytest.mark.parametrize(
    ("changes", "hashed", "line", "told"),
    [
        (["delete from audit_lines where line = 4"], None, 4, "Line 4 is missing: line 5 comes next."),
        (["delete from audit_lines where line < 4"], None, 1, "Line 1 is missing: line 4 comes next."),
        (REMOVED_AND_RENUMBERED, None, 4, "Line 4 is missing: what stands there was line 5."),
        (insert(4), None, 4, "Line 4 was changed"),
        # A line put in whose hash was made as the program makes it.
        (insert(4), slice(4, 5), 4, "Line 4 was put in: what was line 4 is now line 5."),
        (["update audit_lines set why = 'else' where line = 4"], slice(4, 5), 4, "Line 4 was changed and its hash"),
        # Everything after it as well: only the hashes beside can tell.
        (["update audit_lines set why = 'else' where line = 4"], slice(4, 10), 4, "Line 4 was changed, with all"),
        (["delete from audit_lines where line > 7"], None, 8, "Lines 8 to 9 are missing at the end"),
        (["delete from audit_lines"], None, 1, "Lines 1 to 9 are missing at the end"),
    ],
)
def test_the_first_line_that_is_not_what_was_written_is_named(store, changes, hashed, line, told):
    forge(store, *changes)
    if hashed:
        for number in range(hashed.start, hashed.stop):
            with closing(sqlite3.connect(office_path(store))) as file, file:
                rehash_one(file, store, number)
    verdict = verify(store)
    assert verdict.faulty_line == line
    assert told in str(verdict.fault)


def rehash_one(file: sqlite3.Connection, store: Path, number: int) -> None:
    lines = {line.line: line for line in audit_lines(store)}
    fitting = replace(lines[number], previous_hash=lines[number - 1].hash)
    values = [fitting.previous_hash, fitting.own_hash(), number]
    file.execute("update audit_lines set previous_hash = ?, hash = ? where line = ?", values)


def test_a_trail_that_was_removed_is_missed(store):
    office_path(store).unlink()
    assert "Lines 1 to 9 are missing" in str(verify(store).fault)


def test_what_was_done_to_both_files_is_found_by_a_head_noted_elsewhere(store):
    noted = verify(store).head
    forge(store, "delete from audit_lines where line > 7", heads=True)
    assert verify(store).fault is None  # what the documentation says cannot be found without
    assert noted[:16] in str(verify(store, noted[:16]).fault)
    assert verify(store, audit_lines(store)[5].hash[:16]).fault is None


def test_a_head_that_is_a_line_behind_is_no_fault(store):
    """A process that is killed between its line and its head."""
    path = heads_path(store)
    path.write_text("".join(path.read_text().splitlines(keepends=True)[:-1]))
    assert verify(store).fault is None


def test_heads_that_were_changed_are_told(store):
    path = heads_path(store)
    path.write_text(path.read_text().replace("\n3 ", "\nthree ", 1))
    with pytest.raises(StoreError, match="three"):
        verify(store)


WRITER = """
import sys
from pathlib import Path
from regdash.store.audit import append
for number in range(int(sys.argv[3])):
    append(Path(sys.argv[1]), "receive", subject=f"{sys.argv[2]}-{number}")
"""


def test_many_processes_write_one_chain(tmp_path):
    """From the first moment on: all of them may be the one that makes the file."""
    writers = [
        subprocess.Popen([sys.executable, "-c", WRITER, str(tmp_path), f"W{number}", "25"], cwd=CHECKOUT)
        for number in range(6)
    ]
    assert [writer.wait() for writer in writers] == [0] * 6
    assert {line.subject for line in audit_lines(tmp_path)} == {f"W{w}-{n}" for w in range(6) for n in range(25)}
    verdict = verify(tmp_path)
    assert (verdict.lines, verdict.fault) == (150, None)
    assert len(heads_path(tmp_path).read_text().splitlines()) == 150


def test_a_writer_that_is_killed_leaves_a_whole_trail(tmp_path):
    for pause in range(4):
        writer = subprocess.Popen([sys.executable, "-c", WRITER, str(tmp_path), f"K{pause}", "100000"], cwd=CHECKOUT)
        while not any(line.subject.startswith(f"K{pause}-") for line in audit_lines(tmp_path)):
            assert writer.poll() is None
        with pytest.raises(subprocess.TimeoutExpired):
            writer.wait(0.02 * pause)
        writer.kill()
        writer.wait()
        assert verify(tmp_path).fault is None
    append(tmp_path, "backup")
    assert verify(tmp_path).fault is None


def test_lines_are_listed_by_time_and_by_act(store, monkeypatch):
    append(store, "freeze", "2024-12-31.1")
    monkeypatch.setattr("regdash.store.audit.now", lambda: "2090-01-01T00:00:00Z")
    append(store, "freeze", "2089-12-31.1")
    assert [line.subject for line in audit_lines(store, what="freeze")] == ["2024-12-31.1", "2089-12-31.1"]
    assert [line.subject for line in audit_lines(store, since="2090-01-01")] == ["2089-12-31.1"]
    assert audit_lines(store, since="2090-01-02") == []
