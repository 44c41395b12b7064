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
    _feeds(register)
    receive(folder / "store", [folder / "in"])
    freeze(folder / "store", THROUGH)
    return folder / "store"


def _feeds(register: SmallRegister) -> None:
    """Deaths, losses, a catalogue, a unit and a count: first sent, sent again as they were, and corrected."""
    deaths = {1: "2005-03-10", 99: "2005-03-11", 2: "2005-04-20"}
    register.deaths("2005-04-05", deaths)
    register.deaths("2005-05-10", deaths | {1: "2005-03-12", 99: "2005-03-13", 2: "2005-05-05"})
    loss = {"patient_id": "P000000002", "loss_date": "2005-04-15", "loss": "emigrated"}
    register.submit("losses", "2005-04-06", {"losses": [loss]})
    register.submit("losses", "2005-05-11", {"losses": [loss | {"loss": "opted-out"}]})
    register.catalogue("2005-05-12", {"KF001-3A": {"maker": "M99"}, "KF002-3A": {"withdrawn_date": "2005-03-31"}})
    count = {"hospital_id": "H001", "joint": "knee", "kind": "primary", "month": "2004-12", "operations": "2"}
    register.submit("admin_counts", "2005-04-07", {"admin_counts": [count]})
    register.submit("admin_counts", "2005-05-13", {"admin_counts": [count | {"operations": "3"}]})


def changes(found: list[Correction]) -> list[tuple]:
    return [(c.submission, c.table, c.line_no, c.field, c.old_value, c.new_value) for c in found]


def test_each_changed_field_is_one_line_and_nothing_else_is(made):
    _, found = corrections_in(made, hospital="H001")
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
    _, found = corrections_in(made, hospital="H001", since=date(2005, 4, 1))
    first, last = found[0], found[-1]
    assert (first.hospital, first.corrected_on, first.reason) == (
        "H001",
        date(2005, 4, 1),
        "scale was off, as [patient] said",
    )
    assert (last.corrected_on, last.reason) == (date(2005, 5, 1), None)
    assert corrections_in(made, hospital="H001", since=date(2005, 5, 1))[1] == [last]
    assert corrections_in(made, hospital="office", since=date(2005, 5, 14))[1] == []


def test_deaths_losses_the_catalogue_and_counts_are_in_the_log_too(made):
    _, found = corrections_in(made, hospital="office")
    assert [(c.submission, c.record_id, c.field, c.old_value, c.new_value, c.is_counted) for c in found] == [
        ("deaths-0002", "P000000001", "death_date", "2005-03-10", "2005-03-12", False),  # the one operation is held
        ("deaths-0002", "P000000002", "death_date", "2005-04-20", "2005-05-05", True),  # it was in the time of the cut
        ("deaths-0002", "P000000099", "death_date", "2005-03-11", "2005-03-13", False),  # nobody's of this register
        ("losses-0002", "P000000002", "loss", "emigrated", "opted-out", True),
        ("catalogue-0002", "KF001-3A", "maker", "M01", "M99", True),
        ("catalogue-0002", "KF002-3A", "withdrawn_date", None, "2005-03-31", False),  # no component has it
        ("admin_counts-0002", "H001 knee primary 2004-12", "operations", "2", "3", True),
    ]
    assert found[0].corrected_on == date(2005, 5, 10)


def test_corrections_are_counted_by_field(made):
    _, found = corrections_in(made)
    counts = {(c.table, c.field): (c.corrections, c.records) for c in by_field(found)}
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
