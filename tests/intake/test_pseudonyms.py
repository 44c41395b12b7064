"""
Numbers of patients become pseudonyms on their way in, and stand nowhere afterwards.

The hash is HMAC-SHA-256; its published test cases are those of RFC 4231, and base32 is that of RFC 4648.
"""

import base64
import hashlib
import hmac
import json
import os
from pathlib import Path

import duckdb
import pytest

from regdash.dictionary import PATIENT_FORM
from regdash.errors import InputError, StoreError
from regdash.intake.pseudonyms import Pseudonyms, new_key, read_key
from regdash.intake.receive import receive
from tests.cli.asking import one_line, regdash
from tests.intake.small_register import SmallRegister, primary, revision
from tests.intake.test_files import state_of

KEY = Pseudonyms(bytes(range(32)))
NUMBERS = ("987654-3210", "987654-3211", "Ä-987654-3212")  # of three patients of H001


def test_the_keyed_hash_is_that_of_its_standard():
    """RFC 4231, test case 2."""
    said = "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"
    assert hmac.digest(b"Jefe", b"what do ya want for nothing?", hashlib.sha256).hex() == said


def test_a_pseudonym_is_the_first_ten_bytes_of_the_hash_in_base32():
    """Worked out by the definition of HMAC (RFC 2104) from plain SHA-256."""
    block = KEY.key.ljust(64, b"\0")
    inner = hashlib.sha256(bytes(b ^ 0x36 for b in block) + b"H001\x00" + b"987654-3210").digest()
    outer = hashlib.sha256(bytes(b ^ 0x5C for b in block) + inner).digest()
    assert KEY.of(NUMBERS[0], "H001") == "Q" + base64.b32encode(outer[:10]).decode()


def test_pseudonyms_have_the_agreed_form_and_none_meets_another():
    made = [KEY.of(str(n), "") for n in range(100_000)]
    assert len(set(made)) == len(made)
    assert all(PATIENT_FORM.fullmatch(one) for one in made)


def test_one_number_at_two_hospitals_is_two_patients_unless_it_is_shared():
    assert KEY.of("123", "H001") != KEY.of("123", "H002")
    assert KEY.of("123", "") == KEY.of(" 123 ", "")


def test_another_key_gives_another_pseudonym_and_neither_shows_the_key():
    other = Pseudonyms(bytes(32))
    assert other.of("123", "") != KEY.of("123", "")
    assert other.fingerprint != KEY.fingerprint
    assert KEY.key.hex() not in repr(KEY)
    assert repr(KEY.key) not in repr(KEY)


def test_a_composed_letter_and_its_parts_are_one_number():
    assert KEY.of("\u00c4-1", "") == KEY.of("A\u0308-1", "")


def test_an_empty_cell_stays_empty():
    assert KEY.of("  ", "H001") == ""


# ---- the key


def test_a_new_key_is_secret_and_never_written_over(tmp_path):
    path = tmp_path / "register.key"
    new_key(path)
    assert path.stat().st_mode & 0o777 == 0o600
    assert len(read_key(path).key) == 32
    before = path.read_bytes()
    with pytest.raises(InputError, match="is there already, and a key is never written over"):
        new_key(path)
    assert path.read_bytes() == before
    new_key(tmp_path / "other.key")
    assert (tmp_path / "other.key").read_bytes() != before


@pytest.mark.parametrize("mode", [0o640, 0o604, 0o620, 0o660, 0o644])
def test_a_key_that_others_may_read_is_refused(mode, tmp_path):
    path = tmp_path / "register.key"
    new_key(path)
    path.chmod(mode)
    with pytest.raises(InputError, match=rf"may be read or changed by others \(mode {mode:o}\)\. .*chmod 600"):
        read_key(path)


@pytest.mark.parametrize("place", ["register.key", "cuts/register.key", "link"])
def test_a_key_inside_a_store_is_refused(place, tmp_path):
    store = tmp_path / "store"
    (store / "cuts").mkdir(parents=True)
    (store / "registry.duckdb").touch()
    if place == "link":  # a link outside that leads inside
        path = tmp_path / "link"
        path.symlink_to(store / "register.key")
    else:
        path = store / place
    with pytest.raises(InputError, match="would stand inside the store"):
        new_key(path)
    (store / "register.key").write_text("0" * 64)
    (store / "register.key").chmod(0o600)
    with pytest.raises(InputError, match="would stand inside the store"):
        read_key(path)


@pytest.mark.parametrize("text", ["", "0" * 63, "g" * 64, "0" * 65, "\xff" * 64])
def test_what_is_no_key_is_refused_and_not_shown(text, tmp_path):
    path = tmp_path / "register.key"
    path.write_text(text, encoding="latin-1")
    path.chmod(0o600)
    with pytest.raises(InputError, match=r"is not a key of this program\. Make one with") as refused:
        read_key(path)
    assert not text or text not in str(refused.value)


def test_a_missing_key_is_refused(tmp_path):
    with pytest.raises(InputError, match=r"cannot be read: No such file or directory\. Make one with: regdash new-key"):
        read_key(tmp_path / "nowhere.key")


# ---- taking in


def say_numbers(folder: Path, how: str) -> Path:
    """Let an envelope say how it names patients."""
    path = folder / "envelope.json"
    path.write_text(json.dumps(json.loads(path.read_text()) | {"patient_numbers": how}))
    return folder


def quote(folder: Path, name: str) -> None:
    path = folder / name
    cells = [line.split(",") for line in path.read_text().splitlines()]
    path.write_text("".join(",".join(f'"{cell}"' for cell in line) + "\n" for line in cells))


def register_of_numbers(folder: Path, how: str = "own", quoted: bool = False) -> SmallRegister:
    """Three operations of two patients at H001, one held for its side; a third patient's row is rejected."""
    register = SmallRegister(folder)
    register.catalogue()
    register.units()
    rows = [
        primary("H001-0000001", 1, "2004-12-01", patient_id=NUMBERS[0]),
        revision("H001-0000002", 1, "2005-01-01", patient_id=NUMBERS[0]),
        primary("H001-0000003", 2, "2004-12-01", patient_id=NUMBERS[1], side=""),
        primary("H001-0000004", 3, "2004-13-01", patient_id=NUMBERS[2]),
    ]
    made = say_numbers(register.operations("2005-01-15", rows), how)
    if quoted:
        quote(made, "operations.csv")
    return register


def patients_in(store: Path) -> list[tuple[str, str]]:
    with duckdb.connect(str(store / "registry.duckdb"), read_only=True) as connection:
        return connection.execute("select operation_id, patient_id from operations order by all").fetchall()


def every_byte_of(folder: Path) -> bytes:
    """All files and their names."""
    return b"\n".join(os.fsencode(path) + (path.read_bytes() if path.is_file() else b"") for path in folder.rglob("*"))


def forms_of(number: str) -> list[bytes]:
    """How a number might stand in a file: as sent, without its sign, in UTF-16, in the forms of a shown value."""
    plain = [number, number.replace("-", ""), number.encode("unicode_escape").decode(), number[-11:]]
    return [form.encode(encoding) for form in plain for encoding in ("utf-8", "utf-16-le")]


@pytest.mark.parametrize("quoted", [False, True])
def test_numbers_are_pseudonyms_in_the_store_and_link_as_such(quoted, tmp_path):
    register_of_numbers(tmp_path / "in", quoted=quoted)
    receive(tmp_path / "store", [tmp_path / "in"], pseudonyms=KEY)
    first, second = (KEY.of(number, "H001") for number in NUMBERS[:2])
    assert patients_in(tmp_path / "store") == [
        ("H001-0000001", first),
        ("H001-0000002", first),
        ("H001-0000003", second),
    ]
    with duckdb.connect(str(tmp_path / "store" / "registry.duckdb"), read_only=True) as connection:
        assert connection.execute("select count(*) from links").fetchall() == [(1,)]


def test_a_number_stands_nowhere_once_it_was_taken_in(tmp_path):
    """Not in the store, its names, what commands print, or a backup; searched byte by byte."""
    register_of_numbers(tmp_path / "in")
    store, key = tmp_path / "store", tmp_path / "register.key"
    new_key(key)
    said = [
        regdash("receive", tmp_path / "in", "--key", key, store=store),
        regdash("receive", tmp_path / "in", "--key", key, "--json", store=store),
        regdash("held", "--live", "--csv", store=store),
        regdash("held", "--live", store=store),
        regdash("freeze", "--through", "2005-01-10", store=store),
        regdash("joints", "--csv", store=store),
        regdash("held", "--json", store=store),
        regdash("backup", tmp_path / "backup", store=store),
    ]
    assert [one.code for one in said] == [0] * len(said), [one.stderr for one in said]
    assert "side-missing" in said[2].stdout
    printed = "".join(one.stdout + one.stderr for one in said).encode()
    stored = every_byte_of(store) + every_byte_of(tmp_path / "backup")
    pseudonym = read_key(key).of(NUMBERS[0], "H001")
    assert pseudonym.encode() in stored
    for number in NUMBERS:
        for form in forms_of(number):
            assert form not in stored
            assert form not in printed
    assert key.read_bytes().strip() not in stored + printed


@pytest.mark.slow  # two receives and a cut
def test_a_joint_of_a_keyed_patient_is_told_by_its_id(tmp_path):
    register_of_numbers(tmp_path / "in", "shared")
    store = tmp_path / "store"
    receive(store, [tmp_path / "in"], pseudonyms=KEY)
    assert regdash("freeze", "--through", "2005-01-10", store=store).code == 0
    (row,) = regdash("joints", "--csv", store=store).csv
    assert row["joint_id"] == f"{KEY.of(NUMBERS[0], '')}-KL"
    for written in (row["joint_id"], row["joint_id"].lower()):
        assert row["joint_id"] in regdash("joint", written, store=store).stdout
    assert row["joint_id"] in regdash("joints", store=store).stdout


def test_a_death_of_a_shared_number_ends_the_life_of_its_patient(tmp_path):
    register = register_of_numbers(tmp_path / "in", "shared")
    feed = {"deaths": [{"patient_id": NUMBERS[0], "death_date": "2005-01-05"}]}
    say_numbers(register.submit("deaths", "2005-02-01", feed), "shared")
    store = tmp_path / "store"
    receive(store, [tmp_path / "in"], pseudonyms=KEY)
    with duckdb.connect(str(store / "registry.duckdb"), read_only=True) as connection:
        assert connection.execute("select patient_id from deaths").fetchall() == [(KEY.of(NUMBERS[0], ""),)]
        query = "select count(*) from operations as o join deaths as d on d.patient_id = o.patient_id"
        assert connection.execute(query).fetchall() == [(2,)]


@pytest.mark.parametrize("how", ["own", "shared"])
def test_numbers_without_a_key_are_refused(how, tmp_path):
    register_of_numbers(tmp_path / "in", how)
    said = one_line(regdash("receive", tmp_path / "in", store=tmp_path / "store"))
    assert "names patients by numbers, and no key was named" in said
    assert "--key FILE or REGDASH_KEY" in said
    assert not (tmp_path / "store").exists()


def test_the_key_may_be_named_in_the_environment(tmp_path, monkeypatch):
    register_of_numbers(tmp_path / "in")
    new_key(tmp_path / "register.key")
    monkeypatch.setenv("REGDASH_KEY", str(tmp_path / "register.key"))
    assert regdash("receive", tmp_path / "in", store=tmp_path / "store").code == 0


def test_a_second_key_is_refused_and_the_first_goes_on(tmp_path):
    register = register_of_numbers(tmp_path / "in")
    store = tmp_path / "store"
    receive(store, [tmp_path / "in"], pseudonyms=KEY)
    before = state_of(store)
    register.folder = tmp_path / "more"
    say_numbers(register.operations("2005-04-15", [primary("H001-5", 1, "2005-02-01", patient_id=NUMBERS[0])]), "own")
    for folder in ("more", "in"):
        with pytest.raises(StoreError, match="The key is not the one that this store's pseudonyms were made with"):
            receive(store, [tmp_path / folder], pseudonyms=Pseudonyms(bytes(32)))
    assert state_of(store) == before
    assert receive(store, [tmp_path / "more"], pseudonyms=KEY).new_submissions == 1
    assert receive(store, [tmp_path / "in"], pseudonyms=KEY).total("known_already") > 0


def test_the_hash_kept_of_a_file_is_not_that_of_its_numbers(tmp_path):
    """Else a file of one row would give its number away to whoever tries them all."""
    register_of_numbers(tmp_path / "in")
    receive(tmp_path / "store", [tmp_path / "in"], pseudonyms=KEY)
    clear = hashlib.sha256((tmp_path / "in" / "H001-0001" / "operations.csv").read_bytes()).hexdigest()
    assert clear.encode() not in every_byte_of(tmp_path / "store")


def test_the_office_has_no_patients_of_its_own(tmp_path):
    register = register_of_numbers(tmp_path / "in", "pseudonyms")
    made = say_numbers(register.deaths("2005-02-01", {1: "2005-01-05"}), "own")
    with pytest.raises(InputError, match="Say shared if it is a number that all senders use"):
        receive(tmp_path / "store", [made], pseudonyms=KEY)


def test_a_number_sent_by_mistake_as_a_pseudonym_is_rejected_and_not_kept(tmp_path):
    register = register_of_numbers(tmp_path / "in", "pseudonyms")
    register.submit("deaths", "2005-02-01", {"deaths": [{"patient_id": NUMBERS[0], "death_date": "2005-01-05"}]})
    receipt = receive(tmp_path / "store", [tmp_path / "in"])
    assert [file.rejected for file in receipt.files if file.table in ("operations", "deaths")] == [4, 1]
    listed = regdash("held", "--live", "--csv", store=tmp_path / "store").stdout
    assert "patient-form" in listed
    stored = every_byte_of(tmp_path / "store") + listed.encode()
    assert not [number for number in NUMBERS for form in forms_of(number) if form in stored]


def test_a_file_without_a_header_shows_no_patient_in_its_refusal(tmp_path):
    register_of_numbers(tmp_path / "in")
    path = tmp_path / "in" / "H001-0001" / "operations.csv"
    path.write_text(path.read_text().split("\n", 1)[1])
    with pytest.raises(InputError, match="its first line names none of the columns") as refused:
        receive(tmp_path / "store", [path.parent], pseudonyms=KEY)
    assert not [number for number in NUMBERS if number in str(refused.value)]
