"""
Malformed files are refused each in one clear line, or their bad rows are; nothing is ever half taken in.

What a bad file is comes from CSV (RFC 4180), UTF-8 and practice with spreadsheets; the wordings are ours.
"""

from pathlib import Path

import duckdb
import pytest

from regdash.errors import InputError
from regdash.intake.receive import receive
from tests.intake.fuzzed import fuzzed
from tests.intake.malformed import IN_ROWS, REFUSED, WHOSE, all_refused
from tests.intake.small_register import SmallRegister
from tests.intake.spoiling import write_good
from tests.intake.test_accounting import adds_up, listed
from tests.intake.test_files import state_of

FUZZED = 120
CASES = list(all_refused())


@pytest.fixture(scope="module")
def store(tmp_path_factory) -> Path:
    """A small store; no refusal changes it, so all tests share it."""
    folder = tmp_path_factory.mktemp("shared")
    SmallRegister(folder / "in").units()
    write_good(folder / "in", "H002")
    receive(folder / "store", [folder / "in"])
    return folder / "store"


@pytest.fixture(scope="module")
def before(store) -> dict[str, str]:
    return state_of(store)


def test_there_are_two_hundred_malformed_files():
    assert len(REFUSED) + len(WHOSE) + len(IN_ROWS) >= 190
    assert len(CASES) + len(IN_ROWS) + FUZZED >= 300


@pytest.mark.parametrize(("spoil", "told"), [case[1:] for case in CASES], ids=[case[0] for case in CASES])
def test_a_malformed_file_is_one_clear_line_and_the_store_is_as_it_was(spoil, told, store, before, tmp_path):
    folder = write_good(tmp_path, "H001")
    spoil(folder)
    with pytest.raises(InputError) as refused:
        receive(store, [folder])
    line = str(refused.value)
    assert told in line
    assert str(folder) in line
    assert line.isprintable()
    assert len(line) < 1200
    assert state_of(store) == before


def hospitals(count: int) -> list[str]:
    return [f"H{n:03d}" for n in range(100, 100 + count)]


def check_taken_in_alone(folder: Path, spoilt: list[Path]) -> None:
    """Take in many submissions at once; what is in the store is what the good ones alone would have brought."""
    receipt = receive(folder / "store", [folder / "in"])
    assert adds_up(receipt)
    refused = {one.folder: one.told for one in receipt.refused}
    assert all(line.isprintable() and folder_name in line for folder_name, line in refused.items())
    good = [path for path in (folder / "in").iterdir() if str(path.resolve()) not in refused]
    assert len(good) + len(refused) == len(list((folder / "in").iterdir()))
    assert {path for path in spoilt if str(path.resolve()) in refused} == set(map(Path, refused))
    again = receive(folder / "good", good)
    assert again.refused == ()
    assert again.files == receipt.files
    assert listed(folder / "store") == listed(folder / "good")


def test_bad_rows_alone_are_rejected_held_or_warned_of_and_the_others_are_taken_in(tmp_path):
    codes = dict(zip(hospitals(len(IN_ROWS)), IN_ROWS))
    register = SmallRegister(tmp_path / "in")
    register.units(hospitals=tuple(codes))
    for code, name in codes.items():
        IN_ROWS[name][0](write_good(tmp_path / "in", code))
    receipt = receive(tmp_path / "store", [tmp_path / "in"])
    assert receipt.refused == ()
    assert adds_up(receipt)
    with duckdb.connect(str(tmp_path / "store" / "registry.duckdb"), read_only=True) as connection:
        query = "select hospital_id, rule from (from held_rows union all by name from noted_rows) where row_no = 2"
        found = set(connection.execute(query).fetchall())
    missed = {name: rule for code, name in codes.items() for rule in [IN_ROWS[name][1]] if (code, rule) not in found}
    assert missed == {}
    operations = [file for file in receipt.files if file.table == "operations"]
    assert all(file.accepted + file.held >= 2 and file.received == 3 for file in operations)


@pytest.mark.slow  # many submissions
def test_of_many_fuzzed_submissions_each_is_refused_by_itself_or_accounted_for(tmp_path):
    """Whatever the fuzzer did to some, the store is as if they had never been named."""
    codes = hospitals(FUZZED)
    SmallRegister(tmp_path / "in").units(hospitals=tuple(codes))
    spoilt = []
    for seed, code in enumerate(codes):
        folder = write_good(tmp_path / "in", code)
        fuzzed(seed)(folder)
        spoilt.append(folder)
    check_taken_in_alone(tmp_path, spoilt)


@pytest.mark.slow
@pytest.mark.parametrize("block", range(10))
def test_of_a_great_many_fuzzed_submissions_each_is_refused_by_itself_or_accounted_for(block, tmp_path):
    codes = hospitals(800)
    SmallRegister(tmp_path / "in").units(hospitals=tuple(codes))
    spoilt = []
    for n, code in enumerate(codes):
        folder = write_good(tmp_path / "in", code)
        fuzzed(1000 * (block + 1) + n)(folder)
        spoilt.append(folder)
    check_taken_in_alone(tmp_path, spoilt)


@pytest.mark.parametrize("spoil", [case[0] for case in WHOSE.values()][:-1], ids=list(WHOSE)[:-1])
def test_where_nobody_can_tell_whose_it_is_nothing_is_taken_in(spoil, store, before, tmp_path):
    spoil(write_good(tmp_path, "H001"))
    write_good(tmp_path, "H003")
    with pytest.raises(InputError, match=r"Nothing was taken in\.$"):
        receive(store, [tmp_path])
    assert state_of(store) == before
