"""
One faulty submission keeps nobody else's out, but what its own sender sent after it waits.

Waiting is what keeps follow-up right: an envelope says through which date its feed is complete, and a risk counts every
joint without a revision as in place until then.
"""

from pathlib import Path

import duckdb
import pytest

from regdash.errors import InputError
from regdash.intake.receive import Receipt, receive
from tests.cli.asking import regdash
from tests.intake.small_register import SmallRegister
from tests.intake.spoiling import of_envelope, write_good
from tests.intake.test_accounting import adds_up, listed
from tests.intake.test_files import state_of


@pytest.fixture
def inbox(tmp_path) -> Path:
    """Units, and three submissions of each of two hospitals."""
    SmallRegister(tmp_path / "in").units()
    for hospital in ("H001", "H002"):
        for sequence in (1, 2, 3):
            write_good(tmp_path / "in", hospital, sequence)
    return tmp_path / "in"


def spoil(inbox: Path, name: str) -> bytes:
    """Spoil a submission, and give what its file was."""
    path = inbox / name / "operations.csv"
    good = path.read_bytes()
    path.write_bytes(good[:-1])
    return good


def in_store(store: Path) -> set[str]:
    with duckdb.connect(str(store / "registry.duckdb"), read_only=True) as connection:
        return {name for (name,) in connection.execute("select submission_id from submissions").fetchall()}


def named(receipt: Receipt) -> dict[str, str]:
    return {Path(one.folder).name: one.told for one in receipt.refused}


def test_a_faulty_submission_and_the_later_ones_of_its_sender_stay_out_and_all_others_come_in(inbox, tmp_path):
    spoil(inbox, "H001-0002")
    receipt = receive(tmp_path / "store", [inbox])
    refused = named(receipt)
    assert set(refused) == {"H001-0002", "H001-0003"}
    assert "operations.csv ends in the middle of line 4" in refused["H001-0002"]
    assert refused["H001-0003"].endswith(
        "waits: it says that operations of H001 are complete through 2005-04-15, and sequence 2 was refused. "
        "Take it in together with that one."
    )
    assert in_store(tmp_path / "store") == {"units-0001", "H001-0001", "H002-0001", "H002-0002", "H002-0003"}
    assert (receipt.submissions, receipt.new_submissions) == (5, 5)
    assert adds_up(receipt)


@pytest.mark.slow  # two stores
def test_once_corrected_the_store_is_as_if_nothing_had_been_wrong(inbox, tmp_path):
    good = spoil(inbox, "H001-0002")
    receive(tmp_path / "store", [inbox])
    (inbox / "H001-0002" / "operations.csv").write_bytes(good)
    receipt = receive(tmp_path / "store", [inbox])
    assert (receipt.submissions, receipt.new_submissions, receipt.refused) == (7, 2, ())
    receive(tmp_path / "at_once", [inbox])
    assert listed(tmp_path / "store") == listed(tmp_path / "at_once")


@pytest.mark.slow  # three receives
def test_what_was_taken_in_before_does_not_wait(inbox, tmp_path):
    receive(tmp_path / "store", [inbox / "H001-0003", inbox / "units-0001"])
    spoil(inbox, "H001-0002")
    receipt = receive(tmp_path / "store", [inbox])
    assert set(named(receipt)) == {"H001-0002"}
    assert "H001-0003" in {file.submission for file in receipt.files if file.known_already}


def test_a_faulty_feed_keeps_no_hospital_out(inbox, tmp_path):
    (inbox / "units-0001" / "hospitals.csv").write_bytes(b"")
    receipt = receive(tmp_path / "store", [inbox])
    assert set(named(receipt)) == {"units-0001"}
    assert receipt.new_submissions == 6


def test_of_two_submissions_with_one_sequence_neither_is_taken_in(inbox, tmp_path):
    of_envelope(sequence=2)(inbox / "H001-0003")
    receipt = receive(tmp_path / "store", [inbox])
    refused = named(receipt)
    assert set(refused) == {"H001-0002", "H001-0003"}
    assert "has sequence 2, which H001-0003 of the same sender has too. Number it anew." in refused["H001-0002"]
    assert "has sequence 2, which H001-0002 of the same sender has too. Number it anew." in refused["H001-0003"]


def test_of_two_folders_that_differ_under_one_id_neither_is_taken_in(inbox, tmp_path):
    other = write_good(tmp_path / "other", "H001", 3)
    of_envelope(received_date="2005-04-16")(other)
    receipt = receive(tmp_path / "store", [inbox, other])
    assert [Path(one.folder) for one in receipt.refused] == [(inbox / "H001-0003"), other]
    assert all("differs from the one of the same id" in one.told for one in receipt.refused)
    assert "H001-0003" not in in_store(tmp_path / "store")


def test_an_envelope_with_a_fault_that_says_whose_it_is_lets_others_in(inbox, tmp_path):
    of_envelope(schema="0")(inbox / "H001-0001")
    receipt = receive(tmp_path / "store", [inbox])
    assert set(named(receipt)) == {"H001-0001", "H001-0002", "H001-0003"}
    assert receipt.new_submissions == 4


def test_an_envelope_that_does_not_say_whose_it_is_lets_nobody_in(inbox, tmp_path):
    of_envelope(sender=None)(inbox / "H001-0001")
    with pytest.raises(InputError, match=r"does not say: sender\. Add it\. Nothing was taken in\.$"):
        receive(tmp_path / "store", [inbox])
    assert not (tmp_path / "store").exists()


def test_where_every_submission_is_faulty_one_line_says_so_and_there_is_no_store(inbox, tmp_path):
    for name in ("H001-0001", "H002-0001"):
        spoil(inbox, name)
    with pytest.raises(InputError, match=r"line 4; .* 1 more submission has faults\. Nothing was taken in\.$"):
        receive(tmp_path / "store", [inbox / "H001-0001", inbox / "H002-0001"])
    assert not (tmp_path / "store").exists()


def test_the_command_says_what_it_left_out_and_ends_with_1(inbox, tmp_path):
    spoil(inbox, "H001-0003")
    said = regdash("receive", inbox, store=tmp_path / "store")
    assert said.code == 1
    assert "6 submissions taken in, 0 known already." in said.stderr
    line = said.stderr.splitlines()[-1]
    assert line.startswith(f"Refused: The file {inbox}/H001-0003/operations.csv ends in the middle of line 4")
    assert "operations" in said.stdout
    again = regdash("receive", inbox, "--json", store=tmp_path / "store")
    assert again.code == 1
    (one,) = again.json["refused"]
    assert one["folder"] == str(inbox / "H001-0003")
    assert one["text"] in line
    alone = regdash("receive", inbox / "H001-0003", store=tmp_path / "store")
    assert (alone.code, alone.stdout) == (1, "")
    assert alone.stderr.splitlines()[-1].endswith("Send it whole. Nothing was taken in.")


# ---- files that change while they are read


class Growing:
    """An open file that somebody else adds to while it is read."""

    def __init__(self, path: str, more: bytes) -> None:
        self.path, self.more, self.file = path, more, open(path, "rb")  # noqa: SIM115 - closed by the reader

    def __enter__(self) -> "Growing":
        return self

    def __exit__(self, *fault: object) -> None:
        self.file.close()

    def fileno(self) -> int:
        return self.file.fileno()

    def read(self) -> bytes:
        content = self.file.read()
        with open(self.path, "ab") as writer:
            writer.write(self.more)
        return content


def test_a_file_that_grows_while_it_is_read_is_noticed_and_refused(inbox, tmp_path, monkeypatch):
    store = tmp_path / "store"
    receive(store, [inbox / "H002-0001", inbox / "units-0001"])
    before = state_of(store)
    path = inbox / "H001-0001" / "operations.csv"
    row = path.read_bytes().split(b"\n")[1] + b"\n"

    def slowly(name: str, mode: str) -> object:
        return Growing(name, row) if name == str(path) else open(name, mode)

    monkeypatch.setattr("regdash.intake.files.open", slowly, raising=False)
    with pytest.raises(InputError, match=r"operations\.csv changed while it was read\. Take it in once it has been"):
        receive(store, [inbox / "H001-0001"])
    assert state_of(store) == before


@pytest.mark.parametrize("change", [lambda text: text + text.split(b"\n")[1] + b"\n", lambda text: text.upper()])
def test_a_file_that_changes_between_its_check_and_its_load_is_refused_and_nothing_is_taken_in(change, inbox, tmp_path):
    """A hash is taken at the check, and compared with that of what is loaded."""
    store = tmp_path / "store"
    receive(store, [inbox / "H002-0001", inbox / "units-0001"])
    before = state_of(store)
    path = inbox / "H001-0002" / "components.csv"

    def meanwhile(what: str, done: int, total: int) -> None:
        if what == "checking files" and done == total:
            path.write_bytes(change(path.read_bytes()))

    with pytest.raises(InputError, match=r"components\.csv changed while it was read"):
        receive(store, [inbox], meanwhile)
    assert state_of(store) == before


@pytest.mark.slow  # four receives
def test_a_number_that_is_missing_among_a_senders_is_warned_about_until_it_has_come(inbox, tmp_path):
    store = tmp_path / "store"
    (inbox / "H001-0002").rename(tmp_path / "late")
    first = receive(store, [inbox])
    assert [(gap.sender, gap.kind, gap.missing, gap.last) for gap in first.gaps] == [("H001", "operations", (2,), 3)]
    write_good(inbox, "H001", 6)
    said = regdash("receive", inbox / "H001-0006", tmp_path / "late", "--json", store=store)
    assert "operations of H001 go up to sequence 6, and sequences 4–5 are missing." in said.stderr
    assert said.json["missing_sequences"] == [{"sender": "H001", "kind": "operations", "missing": [4, 5], "last": 6}]
