"""
Late corrections: a submission that changes what a data cut had counted is warned about as a whole.

That such a change is told and logged is common practice of registry offices (no published source).
"""

import json
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner

from regdash.cli.main import cli
from regdash.errors import FilterError
from regdash.intake.receive import Receipt, receive
from regdash.store.corrections import corrections_in
from regdash.store.freeze import freeze
from regdash.store.late_corrections import late_in_cut
from tests.intake.small_register import SmallRegister, primary

RULE = "counted-operations-changed"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Receipt, Receipt]:
    """A store with a cut through 2004 and a later one, and the receipts before and after the first."""
    folder = tmp_path_factory.mktemp("late")
    store, register = folder / "store", SmallRegister(folder / "in")
    register.catalogue()
    register.units(hospitals=("H001", "H002", "H003"))
    counted = [primary(f"H001-{n}", n, f"2004-11-{n:02}") for n in (1, 2, 3)]
    held = primary("H001-4", 4, "2004-11-04", side="")
    later = primary("H001-5", 5, "2005-01-05")
    register.operations("2005-01-20", [*counted, held, later])
    register.operations("2005-01-21", [counted[2] | {"bmi": "30.1"}])  # before any cut
    other = [primary(f"H002-{n}", 10 + n, f"2004-11-{n:02}") for n in (1, 2)]
    register.operations("2005-01-20", other, hospital="H002")
    before = receive(store, [folder / "in"])
    freeze(store, date(2004, 12, 31))
    # Two that counted are changed; one that was held, one of after the cut, and one that says the same are not late.
    sent = [
        counted[0] | {"bmi": "31.0"},
        counted[1] | {"surgeon_id": ""},
        held | {"side": "left"},
        later | {"asa": "I"},
    ]
    register.operations("2005-02-20", [*sent, counted[2] | {"bmi": "30.1"}, primary("H001-6", 6, "2005-02-01")])
    # Just none: what H002 sends is new or known, and H003 is late, and corrects nothing.
    register.operations("2005-02-20", [other[0], primary("H002-3", 13, "2005-02-01")], hospital="H002")
    register.operations("2005-02-20", [primary("H003-1", 21, "2004-11-05")], hospital="H003")
    after = receive(store, [folder / "in"])
    freeze(store, date(2005, 2, 20))
    return store, before, after


def test_a_submission_that_changes_what_a_cut_counted_is_warned_about_once(made):
    _, before, after = made
    assert before.late == ()
    ((found),) = after.late
    assert (found.submission, found.hospital, found.rule, found.severity) == ("H001-0003", "H001", RULE, "warn")
    assert found.value == "2 of data cut 2004-12-31.1"


def test_the_log_of_the_next_cut_has_the_changes_and_the_same_warning(made):
    store, _, after = made
    assert late_in_cut(store, "2005-02-20.1") == ("2005-02-20.1", "2004-12-31.1", list(after.late))
    logged = {one.record_id for one in corrections_in(store, "2005-02-20.1")[1] if one.submission == "H001-0003"}
    assert {"H001-1", "H001-2"} <= logged
    assert late_in_cut(store, "2004-12-31.1") == ("2004-12-31.1", None, [])
    assert late_in_cut(store, hospital="H002")[2] == []
    with pytest.raises(FilterError, match="H009"):
        late_in_cut(store, hospital="H009")


def test_what_is_known_already_is_no_news_and_changes_no_cut(made):
    store, *_ = made
    assert receive(store, [store.parent / "in"]).late == ()
    before = json.loads((store / "cuts" / "2005-02-20.1.json").read_text())
    assert (
        freeze(store, date(2005, 2, 20)).content_hash == before["content_hash"]
    )  # although another cut stands beside it now


def test_people_are_told_by_the_command_on_corrections(made):
    store, *_ = made
    told = CliRunner().invoke(cli, ["corrections", "--late", "--store", str(store), "--cut", "2005-02-20.1", "--csv"])
    assert told.exit_code == 0, told.output
    assert "H001-0003,H001,counted-operations-changed,warn,2 of data cut 2004-12-31.1," in told.output
    wrong = CliRunner().invoke(cli, ["corrections", "--late", "--since", "2005-01-01", "--store", str(store)])
    assert wrong.exit_code == 2
