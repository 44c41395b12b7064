"""
The correction log of a cut: what later submissions changed, field by field. That corrections are kept with who, when,
why and what is common practice of registry offices (no published source).
"""

import json
import shutil
from datetime import date
from pathlib import Path

import pytest

from regdash.errors import InputError
from regdash.intake.envelope import read_envelope
from regdash.intake.receive import receive
from regdash.store.corrections import Correction, by_field, corrections_in
from regdash.store.freeze import freeze
from tests.intake.small_register import SmallRegister, primary, reason, revision, total_knee

THROUGH = date(2005, 4, 30)


def say_why(folder: Path, why: object) -> Path:
    path = folder / "envelope.json"
    path.write_text(json.dumps(json.loads(path.read_text()) | {"reason_for_correction": why}))
    return folder


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("corrected")
    register = SmallRegister(folder / "in")
    register.catalogue()
    register.units()
    one, two = primary("H001-0000001", 1, "2004-12-01"), primary("H001-0000002", 2, "2004-12-02")
    again = revision("H001-0000003", 2, "2005-01-10")
    noted = [reason("H001-0000003") | {"note": "told by phone"}]
    parts = [*total_knee("H001-0000001"), *total_knee("H001-0000002")]
    register.operations("2005-02-01", [one, two, again], parts, noted)
    # The same again in other words, then a real correction, a late line and another note.
    register.operations("2005-03-01", [one | {"sex": "2"}], parts[:3])
    changed = one | {"bmi": "31.0", "surgeon_id": ""}
    parts[2] = parts[2] | {"lot": "L9"}
    register.operations("2005-04-01", [changed], [*parts[:3], parts[0] | {"line_no": "4", "lot": ""}])
    say_why(folder / "in" / "H001-0003", "scale was off, as P000000001 said")
    register.operations("2005-05-01", [again], [], [reason("H001-0000003") | {"note": "told in writing"}])
    receive(folder / "store", [folder / "in"])
    freeze(folder / "store", THROUGH)
    return folder / "store"


def changes(found: list[Correction]) -> list[tuple]:
    return [(c.submission, c.table, c.line_no, c.field, c.old_value, c.new_value) for c in found]


def test_each_changed_field_is_one_line_and_nothing_else_is(made):
    _, found = corrections_in(made)
    assert changes(found) == [
        ("H001-0003", "components", 3, "lot", "L3", "L9"),
        ("H001-0003", "components", 4, "action", None, "implanted"),
        ("H001-0003", "components", 4, "catalogue_no", None, "KF001-3A"),
        ("H001-0003", "components", 4, "role", None, "femoral"),
        ("H001-0003", "operations", None, "bmi", "28.5", "31.0"),
        ("H001-0003", "operations", None, "surgeon_id", "S0001", None),
        ("H001-0004", "reasons", 1, "note", "not shown", "not shown"),
    ]


def test_the_log_says_who_when_and_why_and_names_no_patient(made):
    _, found = corrections_in(made, since=date(2005, 4, 1))
    first, last = found[0], found[-1]
    assert (first.hospital, first.corrected_on, first.reason) == (
        "H001",
        date(2005, 4, 1),
        "scale was off, as [patient] said",
    )
    assert (last.corrected_on, last.reason) == (date(2005, 5, 1), None)
    assert corrections_in(made, since=date(2005, 5, 1))[1] == [last]
    assert corrections_in(made, hospital="office")[1] == []


def test_corrections_are_counted_by_field(made):
    _, found = corrections_in(made)
    counts = {(c.table, c.field): (c.corrections, c.operations) for c in by_field(found)}
    assert counts["operations", "bmi"] == (1, 1)
    assert sum(corrections for corrections, _ in counts.values()) == len(found)


def test_an_earlier_cut_knows_none_of_the_later_corrections(made, tmp_path):
    store = Path(shutil.copytree(made, tmp_path / "store"))
    freeze(store, date(2005, 3, 1), date(2005, 3, 31))
    assert corrections_in(store, "2005-03-01")[1] == []


@pytest.mark.parametrize("why", [5, "a\nb", "x" * 301])
def test_a_reason_that_is_no_line_of_text_is_refused(tmp_path, why):
    folder = SmallRegister(tmp_path).operations("2005-02-01", [primary("H001-0000001", 1, "2004-12-01")])
    with pytest.raises(InputError, match="reason_for_correction"):
        read_envelope(str(say_why(folder, why)))
