"""
A cut is refused where links were lost or counted records are gone with no correction, unless somebody says why.

Three points and not one record are common practice of registry offices (no published source); the counts here are
worked out by hand.
"""

import shutil
from datetime import date
from pathlib import Path

import pytest

from regdash.errors import CutRefused, StoreError
from regdash.intake.receive import receive
from regdash.store.against_previous import Compared
from regdash.store.cuts import Manifest, cut_path, list_cuts
from regdash.store.freeze import freeze
from tests.cli.asking import one_line, regdash
from tests.intake.small_register import SmallRegister, component, primary, reason, revision

FIRST, SECOND = date(2005, 12, 31), date(2006, 12, 31)


def exchange(operation_id: str) -> list[dict[str, str]]:
    """What a revision lists."""
    return [
        component(operation_id, 1, "bearing-insert", "KI001-3A", "removed"),
        component(operation_id, 2, "bearing-insert", "KI001-3A"),
    ]


def send(register: SmallRegister, received: str, primaries: list, revisions: list) -> Path:
    """One submission of H001; the components of primaries are those of a total knee."""
    rows = [*primaries, *revisions]
    parts = [
        component(row["operation_id"], n, role, number)
        for row in primaries
        for n, (role, number) in enumerate(
            (("femoral", "KF001-3A"), ("tibial", "KT001-3A"), ("bearing-insert", "KI001-3A")), 1
        )
    ]
    parts += [line for row in revisions for line in exchange(row["operation_id"])]
    reasons = [reason(row["operation_id"]) for row in revisions]
    return register.operations(received, rows, parts, reasons)


@pytest.fixture(scope="module")
def first_year(tmp_path_factory) -> tuple[Path, SmallRegister, Manifest]:
    """Ten joints, five of them revised; a cut through 2005."""
    folder = tmp_path_factory.mktemp("office")
    register = SmallRegister(folder / "in")
    folders = [register.catalogue(), register.units()]
    primaries = [primary(f"H001-{n:07d}", n, "2004-01-01") for n in range(1, 11)]
    revisions = [revision(f"H001-{n:07d}", n - 100, "2005-01-01") for n in range(101, 106)]
    folders.append(send(register, "2006-01-15", primaries, revisions))
    receive(folder / "store", folders)
    return folder / "store", register, freeze(folder / "store", FIRST)


@pytest.fixture
def office(first_year, tmp_path) -> tuple[SmallRegister, Path, Manifest]:
    """A copy of that store, and a register that goes on writing."""
    store, register, first = first_year
    shutil.copytree(store, tmp_path / "store")
    later = SmallRegister(tmp_path / "in")
    later.sequences = dict(register.sequences)
    return later, tmp_path / "store", first


def test_the_first_cut_has_nothing_to_be_compared_with(office):
    assert office[2].compared == {}


@pytest.mark.slow  # two cuts
def test_a_cut_that_loses_nothing_says_what_it_was_compared_with(office):
    register, store, first = office
    receive(store, [send(register, "2007-01-15", [], [revision("H001-0000106", 6, "2006-01-01")])])
    second = freeze(store, SECOND)
    assert second.compared["previous"] == first.cut
    assert (second.compared["linked_before"], second.compared["linked"]) == ([5, 5], [6, 6])
    assert second.compared["vanished"] == {}


def test_lost_links_are_refused_with_the_shares_before_and_after(office):
    register, store, _ = office
    receive(store, [send(register, "2007-01-15", [], [revision("H001-0000199", 99, "2006-01-01")])])
    with pytest.raises(CutRefused, match=r"from 100.0 % \(5 of 5\) to 83.3 % \(5 of 6\)") as refusal:
        freeze(store, SECOND)
    assert "P0000" not in str(refusal.value)
    assert len(list_cuts(store)) == 1
    assert sorted(path.name for path in (store / "cuts").iterdir()) == ["2005-12-31.1.duckdb", "2005-12-31.1.json"]


def test_three_points_are_allowed_and_not_more():
    assert Compared("x", 100, 100, 100, 97).reasons == []
    assert len(Compared("x", 1000, 1000, 1000, 969).reasons) == 1
    assert Compared("x", 200, 190, 100, 92).reasons == []
    assert Compared("x", 0, 0, 5, 0).reasons == []


@pytest.mark.slow  # two cuts
def test_a_counted_record_that_a_later_death_holds_back_is_gone_with_no_correction(office):
    register, store, _ = office
    receive(store, [register.deaths("2007-01-15", {1: "2004-06-01"})])
    with pytest.raises(CutRefused, match=r"1 operation that counted is gone") as refusal:
        freeze(store, SECOND)
    assert "(the rule operation-after-death now holds it): H001-0000101" in str(refusal.value)
    assert "regdash held --live --rule operation-after-death" in str(refusal.value)
    found = regdash("held", "--live", "--rule", "operation-after-death", "--json", store=store).json["rows"]
    assert "H001-0000101" in str(found)
    made = freeze(store, SECOND, because="the death was checked with the district")
    assert made.because == "the death was checked with the district"
    assert sum(made.compared["vanished"].values()) == 1


@pytest.mark.slow  # two cuts
def test_a_correction_accounts_for_a_record_that_is_gone(office):
    register, store, _ = office
    receive(store, [send(register, "2007-01-15", [], [revision("H001-0000101", 1, "2005-01-01", side="")])])
    second = freeze(store, SECOND)
    assert second.compared["vanished"] == {}
    assert second.compared["linked"] == [4, 4]


@pytest.mark.slow  # two cuts
def test_a_cut_of_the_past_is_compared_with_what_was_known_by_then(office):
    register, store, first = office
    receive(store, [send(register, "2007-01-15", [], [revision("H001-0000199", 99, "2006-01-01")])])
    again = freeze(store, FIRST, known_as_of=date(2006, 1, 15))
    assert again.content_hash == first.content_hash
    assert again.compared["previous"] == first.cut


@pytest.mark.slow  # two cuts
def test_a_missing_file_of_the_cut_before_is_told(office):
    _, store, first = office
    cut_path(store, first.cut).unlink()
    with pytest.raises(StoreError, match="its file is missing"):
        freeze(store, FIRST)
    assert freeze(store, FIRST, because="lost with the old disk").because


def test_the_command_refuses_in_one_line_and_writes_the_reason_down(office):
    register, store, _ = office
    receive(store, [send(register, "2007-01-15", [], [revision("H001-0000199", 99, "2006-01-01")])])
    said = regdash("freeze", "--through", SECOND, store=store)
    assert said.code == 1
    assert "83.3 %" in said.stderr.splitlines()[-1]
    done = regdash("freeze", "--through", SECOND, "--because", "H001 sent another region's patient", store=store)
    assert done.code == 0
    trail = regdash("audit", "--json", store=store).json["rows"]
    freezes = [row for row in trail if "freeze" in row.values()]
    assert "H001 sent another region's patient" in str(freezes)
    assert "refused" in str(freezes)
    assert one_line(regdash("freeze", "--through", "2006-12-30", "--known", "1999-01-01", store=store))
