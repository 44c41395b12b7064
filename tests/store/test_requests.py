"""
The register of requests: what is kept, what is refused, and that nothing in it can be changed.

Which acts there are, and which may follow which, is this office's own rule (no published source).
"""

import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import date, timedelta
from pathlib import Path

import pytest

from regdash.cli import requests as commands
from regdash.errors import InputError, RequestError, WriteError
from regdash.store import requests
from regdash.store.audit import audit_lines, verify
from regdash.store.checksums import checksum_of
from regdash.store.office import office_path
from regdash.store.requests import add_request, answer_request, close_request, requests_known
from regdash.store.sqlfiles import sql_file

CHECKOUT = Path(__file__).parent.parent.parent
CAME = date(2024, 8, 5)


def add(store: Path, what: str = "risk of total knees", kind: str = "researcher", **more: object) -> str:
    line = add_request(store, kind, what, CAME, **more)  # type: ignore[arg-type]
    return requests.name_of(line.request)


def test_a_request_keeps_who_what_and_by_when_and_each_gets_the_next_number(tmp_path, monkeypatch):
    monkeypatch.setenv("REGDASH_USER", "analyst one")
    assert add(tmp_path, " our  knees\n by year ", "maker", code="m03", due=date(2024, 9, 30)) == "R001"
    assert add(tmp_path) == "R002"
    one, other = requests_known(tmp_path)
    assert (one.name, one.kind, one.code, one.what) == ("R001", "maker", "M03", "our knees by year")
    assert (one.received, one.due, one.lines[0].written_by) == (CAME, date(2024, 9, 30), "analyst one")
    assert (other.name, other.code, other.due) == ("R002", "", None)


def test_its_state_is_that_of_the_day_that_is_asked_for(tmp_path):
    name = add(tmp_path, due=date(2024, 8, 20))
    answer_request(tmp_path, name, date(2024, 9, 2), given="extract", checksum="ab" * 32)
    answer_request(tmp_path, name, date(2024, 9, 9), note="the same with less")
    close_request(tmp_path, name, date(2024, 10, 1), "all sent")
    (one,) = requests_known(tmp_path)
    days = ("2024-08-20", "2024-08-21", "2024-09-02", "2024-10-01")
    assert [one.state(date.fromisoformat(day)) for day in days] == ["open", "overdue", "answered", "closed"]
    assert one.days == (date(2024, 9, 2) - CAME).days == 28
    assert one.first("answered").checksum == "ab" * 32
    with pytest.raises(RequestError, match="R001 was closed on 2024-10-01"):
        answer_request(tmp_path, name, date(2024, 10, 2), note="more")


def test_what_was_entered_by_mistake_is_said_to_be_and_stays(tmp_path):
    name = add(tmp_path)
    close_request(tmp_path, name, CAME, "sent to another office", mistaken=True)
    assert add(tmp_path) == "R002"
    assert [one.is_mistaken for one in requests_known(tmp_path)] == [True, False]


@pytest.mark.parametrize(
    ("what", "told"),
    [
        ("data for Dr Miller", "Word 3 of the text looks like the name of a person"),
        ("send it to someone@example.org", "Word 4 of the text looks like an address"),
        ("all of 121274-1234", "a person's number"),
        ("all of 12127412345 please", "a person's number"),
        (" \n ", "says what is asked for"),
        ("x" * 2001, "2,001 characters"),
    ],
)
def test_a_text_that_looks_as_if_it_named_somebody_is_refused_without_saying_it_again(tmp_path, what, told):
    with pytest.raises((RequestError, InputError), match=told) as refusal:
        add(tmp_path, what)
    assert "Miller" not in str(refusal.value)
    assert "1212" not in str(refusal.value)
    assert list(requests_known(tmp_path)) == []


def test_dates_device_codes_and_years_are_no_personal_numbers_and_pseudonyms_are_hidden(tmp_path):
    """A GTIN has 14 digits, or 13 without the leading one (GS1 General Specifications, section 2)."""
    what = "primaries 2015-2020, GTIN 04012345678901, 4012345678901, from 2015-01-01 to 20241231, joint P123456789-KL"
    add(tmp_path, what)
    (one,) = requests_known(tmp_path)
    assert one.what == what.replace("P123456789", "[patient]")


@pytest.mark.parametrize(
    ("kind", "more", "told"),
    [
        ("neighbour", {}, "neighbour is not who asks"),
        ("maker", {"code": "Miller"}, "That is no code"),
        ("patient", {"code": "P01"}, "not even by a code"),
        ("press", {"due": date(2024, 8, 1)}, "cannot be due on 2024-08-01"),
    ],
)
def test_who_asks_is_a_kind_and_at_most_a_code(tmp_path, kind, more, told):
    with pytest.raises(RequestError, match=told):
        add(tmp_path, kind=kind, **more)
    assert not office_path(tmp_path).exists()


def test_days_cannot_be_before_the_request_or_still_to_come(tmp_path):
    name = add(tmp_path)
    with pytest.raises(RequestError, match="was received on 2024-08-05, and not answered before that"):
        answer_request(tmp_path, name, date(2024, 8, 4), note="no")
    with pytest.raises(RequestError, match="still to come"):
        close_request(tmp_path, name, date.today() + timedelta(days=3), "done")
    with pytest.raises(RequestError, match="says with what"):
        answer_request(tmp_path, name, CAME)
    for wrong in ("R002", "R0", "", "one"):
        with pytest.raises(RequestError, match="The newest is R001"):
            close_request(tmp_path, wrong, CAME, "done")


def test_a_line_cannot_be_changed_removed_or_put_in_whoever_tries(tmp_path):
    name = add(tmp_path)
    close_request(tmp_path, name, CAME, "done")
    into = "insert into requests select {}, {}, '{}', kind, code, said, day, due, given, checksum, 'x', 'x', 'x' "
    tried = [
        "update requests set said = 'another'",
        "delete from requests",
        into.format(9, 2, "received") + "from requests where number = 1",
        into.format(3, 3, "received") + "from requests where number = 1",
        into.format(3, 7, "answered") + "from requests where number = 1",
        into.format(3, 1, "answered") + "from requests where number = 1",
    ]
    with closing(sqlite3.connect(office_path(tmp_path))) as office:
        for statement in tried:
            with pytest.raises(sqlite3.IntegrityError, match="append-only"):
                office.execute(statement)
    assert len(requests_known(tmp_path).lines) == 2


def test_several_write_at_once_and_no_number_is_given_twice(tmp_path):
    code = (
        "import sys\nfrom datetime import date\nfrom pathlib import Path\n"
        "from regdash.store.requests import add_request\n"
        "for n in range(8): add_request(Path(sys.argv[1]), 'press', f'question {n}', date(2024, 8, 5))\n"
    )
    running = [subprocess.Popen([sys.executable, "-c", code, str(tmp_path)], cwd=CHECKOUT) for _ in range(3)]
    assert [one.wait(timeout=60) for one in running] == [0, 0, 0]
    assert [one.name for one in requests_known(tmp_path)] == [requests.name_of(n) for n in range(1, 25)]
    assert verify(tmp_path).fault is None


def test_each_line_stands_in_the_audit_trail_with_its_checksum_and_without_its_text(tmp_path):
    name = add(tmp_path, "who is the best surgeon", "press")
    answer_request(tmp_path, name, CAME, given="summary", checksum="cd" * 32)
    told = audit_lines(tmp_path, what="request")
    assert [(line.subject, line.outcome) for line in told] == [("R001", "done"), ("R001", "done")]
    assert "cd" * 32 in told[1].details
    assert not any("surgeon" in line.details for line in told)


def test_the_first_lines_are_read_again_as_they_were(tmp_path):
    add(tmp_path)
    before = requests_known(tmp_path).facts
    answer_request(tmp_path, "R001", CAME, note="told")
    assert requests_known(tmp_path, 1).facts == before
    assert requests_known(tmp_path).facts["hash"] != before["hash"]


def test_a_folder_has_one_checksum_that_sha256sum_gives_too(tmp_path):
    """coreutils: find -type f, sorted, through sha256sum, and the list through sha256sum again."""
    folder = tmp_path / "out"
    (folder / "tables").mkdir(parents=True)
    (folder / "tables" / "a b.csv").write_bytes(b"1\r\n")
    (folder / "page.html").write_text("<p>")
    command = "find . -type f | sed 's|^./||' | LC_ALL=C sort | tr '\\n' '\\0' | xargs -0 sha256sum | sha256sum"
    told = subprocess.run(["sh", "-c", command], cwd=folder, capture_output=True, text=True, check=True).stdout
    assert checksum_of(folder) == told.split()[0]
    (folder / "page.html").write_text("<p >")
    assert checksum_of(folder) != told.split()[0]
    with pytest.raises(WriteError, match="is no file and no folder with files"):
        checksum_of(tmp_path / "gone")


def test_table_program_and_commands_have_the_same_kinds_and_states():
    text = sql_file("office/tables/requests").query
    assert all(f"'{kind}'" in text for kind in requests.KINDS)
    assert commands.KINDS == requests.KINDS
    assert tuple(requests.STATES) == commands.STATES
