"""The office file: made by the first who writes, added to by later releases, readable without the right to write."""

import os
import sqlite3
import stat
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, closing, suppress
from pathlib import Path

import pytest

from regdash.errors import StoreError
from regdash.store import office
from regdash.store.audit import append, audit_lines
from regdash.store.office import office_path, parts_in_order, reading_office, statements, writing_office
from regdash.store.sqlfiles import parse

CHECKOUT = Path(__file__).parent.parent.parent


def parts_of(store: Path) -> set[str]:
    with closing(sqlite3.connect(office_path(store))) as file:
        return {part for (part,) in file.execute("select part from office_parts")}


def test_reading_makes_nothing(tmp_path):
    with reading_office(tmp_path) as file:
        assert file is None
    assert list(tmp_path.iterdir()) == []


def test_the_first_who_writes_makes_every_part_for_the_group(tmp_path):
    before = os.umask(0o077)
    try:
        append(tmp_path, "receive")
    finally:
        os.umask(before)
    assert parts_of(tmp_path) == {part.name for part in parts_in_order()}
    # Nothing else stays: SQLite tidies its log away with the last connection.
    assert {path.name for path in tmp_path.iterdir()} == {"office.sqlite", "office.heads"}
    assert all(stat.S_IMODE(path.stat().st_mode) == 0o664 for path in tmp_path.iterdir())


def test_a_refused_transaction_leaves_nothing(tmp_path):
    append(tmp_path, "receive")
    with suppress(KeyError), writing_office(tmp_path) as file:
        file.execute("create table more (a)")
        raise KeyError
    with reading_office(tmp_path) as file:
        assert file is not None
        assert file.execute("select name from sqlite_master where name = 'more'").fetchall() == []


def test_a_new_table_is_one_file_and_a_copy_of_the_older_file_is_kept(tmp_path, monkeypatch):
    append(tmp_path, "receive", why="before")
    asked = parse(
        "asked_before",
        "-- Questions that people asked.\n--\n-- creates:  asked_before\n\n"
        "create table asked_before (name text primary key) strict;\n",
    )
    today = parts_in_order()
    monkeypatch.setattr(office, "parts_in_order", lambda: (*today, asked))
    append(tmp_path, "receive", why="after")
    assert [line.why for line in audit_lines(tmp_path)] == ["before", "after"]
    assert parts_of(tmp_path) == {part.name for part in today} | {"asked_before"}
    kept = tmp_path / f"office.sqlite.of-{len(today)}-parts"
    with closing(sqlite3.connect(kept)) as copy:
        assert copy.execute("select why from audit_lines").fetchall() == [("before",)]


def test_a_file_of_a_newer_release_is_refused(tmp_path):
    append(tmp_path, "receive")
    with closing(sqlite3.connect(office_path(tmp_path))) as file, file:
        file.execute("insert into office_parts values ('reviews', 'regdash 9', '2030-01-01T00:00:00Z')")
    with pytest.raises(StoreError, match="reviews"):
        append(tmp_path, "receive")
    with pytest.raises(StoreError, match="Update the program"):
        audit_lines(tmp_path)


def test_a_file_that_is_no_database_is_refused(tmp_path):
    office_path(tmp_path).write_bytes(b"no database " * 400)
    with pytest.raises(StoreError, match="no office file"):
        append(tmp_path, "receive")
    with pytest.raises(StoreError, match="no office file"):
        audit_lines(tmp_path)


def test_every_part_comes_after_what_it_reads():
    names = [part.name for part in parts_in_order()]
    assert names.index("office_parts") < names.index("audit_lines")


def test_every_part_makes_the_tables_of_its_header(tmp_path):
    append(tmp_path, "receive")
    with closing(sqlite3.connect(office_path(tmp_path))) as file:
        there = {name for (name,) in file.execute("select name from sqlite_master where type = 'table'")}
    assert there == {table for part in parts_in_order() for table in part.listed("creates")}


def test_a_statement_without_an_end_is_a_bug():
    with pytest.raises(ValueError, match="does not end"):
        statements("create trigger a before update on b begin select 1")


READER = """
import os, sys
from pathlib import Path
from regdash.errors import StoreError
from regdash.store.audit import append, audit_lines, verify
store, own = map(Path, sys.argv[1:])
append(own, "receive"), verify(own)  # so that all is loaded: another account may not reach this program
if os.getuid() == 0:  # who may do anything is no test
    os.setgroups([]); os.setgid(65534); os.setuid(65534)
print([line.why for line in audit_lines(store)], verify(store).fault)
try:
    append(store, "export")
except StoreError as fault:
    print(fault)
"""


@pytest.fixture
def read_only_store() -> Iterator[Path]:
    """A store with one line, in a folder that every account of the machine can reach; pytest's own are not."""
    with tempfile.TemporaryDirectory(prefix="office-") as folder:
        Path(folder).chmod(0o755)
        store = Path(folder) / "store"
        store.mkdir()
        append(store, "receive", why="written")
        for path in store.iterdir():
            path.chmod(0o444)
        store.chmod(0o555)
        yield store
        store.chmod(0o755)


@pytest.mark.parametrize("is_open", [False, True], ids=["alone", "while another has it open"])
def test_who_may_not_write_reads_all_the_same(read_only_store, tmp_path, is_open):
    with ExitStack() as stack:
        if is_open:
            read_only_store.chmod(0o755)
            other = stack.enter_context(closing(sqlite3.connect(office_path(read_only_store))))
            other.execute("select count(*) from audit_lines").fetchall()
            read_only_store.chmod(0o555)
        command = [sys.executable, "-c", READER, str(read_only_store), str(tmp_path)]
        said = subprocess.run(command, cwd=CHECKOUT, capture_output=True, text=True, check=False)
    assert said.stderr == ""
    lines, refusal = said.stdout.splitlines()
    assert lines == "['written'] None"
    assert "office.sqlite" in refusal
