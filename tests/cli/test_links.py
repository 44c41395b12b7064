"""
The command on links: shares, review lists, and decisions that the audit trail has. The register is made by hand; how
links are found and what a cut makes of decisions is tested in tests/store/test_links.py.
"""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from regdash.cli.main import cli
from regdash.intake.receive import receive
from regdash.store.audit import audit_lines, verify
from tests.intake.small_register import SmallRegister, primary, revision

NEAR, LINKED = "H002-0000001", "H002-0000002"


@pytest.fixture(scope="module")
def linked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("linked")
    register = SmallRegister(folder / "in")
    register.catalogue()
    register.units()
    rows = [primary("H001-0000001", 222_222_222, "2005-01-06"), primary("H001-0000002", 333_333_333, "2005-01-06")]
    register.operations("2011-01-15", rows)
    rows = [revision(NEAR, 222_222_223, "2006-01-06"), revision(LINKED, 333_333_333, "2007-01-06")]
    register.operations("2011-01-15", rows, hospital="H002")
    assert not receive(folder / "store", [folder / "in"]).refused
    assert ask(folder / "store", "freeze", "--through", "2010-12-31").exit_code == 0
    return folder / "store"


def ask(store: Path, *words: str) -> Result:
    return CliRunner().invoke(cli, [*words, "--store", str(store)], standalone_mode=False)


def rows_of(result: Result) -> list[dict]:
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)["rows"]


def test_links_are_counted_by_hospital_and_year_and_by_method(linked):
    rows = rows_of(ask(linked, "links", "--json"))
    assert [(r["hospital"], r["year"], r["revisions"], r["linked"], r["linked_share"]) for r in rows] == [
        ("H002", 2006, 1, 0, 0.0),
        ("H002", 2007, 1, 1, 1.0),
    ]
    rows = rows_of(ask(linked, "links", "--by", "method", "--json"))
    assert {r["method"]: r["revisions"] for r in rows} == {"not linked": 1, "same patient, joint and side": 1}
    assert "1 of 2 revisions linked (50.0%)" in ask(linked, "links").stdout


def test_unlinked_revisions_are_counted_by_year_hospital_and_class(linked):
    rows = rows_of(ask(linked, "links", "--unlinked", "--json"))
    assert rows == [{"year": 2006, "hospital": "H002", "class": "linkage failure suspected", "revisions": 1}]


def test_a_candidate_is_accepted_and_undone_and_the_audit_trail_says_so(linked, monkeypatch):
    monkeypatch.setenv("REGDASH_USER", "analyst 1")
    [found] = rows_of(ask(linked, "links", "--review", "--json"))
    assert (found["revision_id"], found["primary_id"], found["agrees"]) == (
        NEAR,
        "H001-0000001",
        "side, sex, birth year",
    )
    assert "P2222" not in ask(linked, "links", "--review").stdout
    done = ask(linked, "links", "accept", NEAR, "H001-0000001", "--why", "one digit of P222222223 was mistyped")
    assert done.exit_code == 0, done.output
    assert ask(linked, "freeze", "--through", "2010-12-31").exit_code == 0
    assert "2 of 2 revisions linked (100.0%)" in ask(linked, "links").stdout
    assert ask(linked, "links", "undo", NEAR, "--why", "the hospital sends it again").exit_code == 0
    told = [(d["decision"], d["why"], d["decided_by"]) for d in rows_of(ask(linked, "links", "decisions", "--json"))]
    assert told == [
        ("accepted", "one digit of [patient] was mistyped", "analyst 1"),
        ("undone", "the hospital sends it again", "analyst 1"),
    ]
    acts = [(line.what, line.subject) for line in audit_lines(linked) if line.what.startswith("link-")]
    assert acts == [("link-accepted", NEAR), ("link-undone", NEAR)]
    assert verify(linked).fault is None


def test_a_field_that_is_none_is_refused_with_the_nearest(linked):
    refused = ask(linked, "links", "--by", "hospitel")
    assert refused.exit_code == 1
    assert "hospital" in refused.stderr


def test_what_a_hospital_must_correct_goes_back_and_the_audit_trail_says_so(tmp_path):
    register = SmallRegister(tmp_path / "in")
    register.catalogue()
    register.units()
    register.operations("2011-01-15", [primary("H001-0000001", 1, "2005-01-06", side="")])
    receive(tmp_path / "store", [tmp_path / "in"])
    assert rows_of(ask(tmp_path / "store", "held", "--live", "--by", "hospital,rule", "--json")) == [
        {"hospital": "H001", "rule": "operation-held", "rows": 3},
        {"hospital": "H001", "rule": "side-missing", "rows": 1},
    ]
    [written] = rows_of(ask(tmp_path / "store", "return-files", "--out", str(tmp_path / "out"), "--json"))
    assert (written["hospital"], written["to_correct"], written["to_check"]) == ("H001", 4, 0)
    assert (tmp_path / "out" / "H001" / "to-correct" / "operations.csv").is_file()
    [line] = [line for line in audit_lines(tmp_path / "store") if line.what == "export"]
    assert (line.subject, json.loads(line.details)["rows"]) == ("H001", 4)
    assert ask(tmp_path / "store", "held", "--by", "hospitel").exit_code == 2


def test_corrections_are_listed_by_hospital_and_date(tmp_path):
    register = SmallRegister(tmp_path / "in")
    register.catalogue()
    register.units()
    row = primary("H001-0000001", 1, "2005-01-06")
    register.operations("2005-02-15", [row])
    register.operations("2005-03-15", [row | {"bmi": "31.0"}])
    receive(tmp_path / "store", [tmp_path / "in"])
    assert ask(tmp_path / "store", "freeze", "--through", "2005-01-31").exit_code == 0
    [found] = rows_of(ask(tmp_path / "store", "corrections", "--hospital", "H001", "--json"))
    assert (found["field"], found["old_value"], found["new_value"]) == ("bmi", "28.5", "31.0")
    assert rows_of(ask(tmp_path / "store", "corrections", "--since", "2005-03-16", "--json")) == []
    assert "bmi" in ask(tmp_path / "store", "corrections").stdout
