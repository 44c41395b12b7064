"""
Links that the records do not make by themselves: candidates, decisions of people, and what a cut makes of them.

Review lists (other side, same serial number, near pseudonym) and decisions that can be undone are common practice of
registry offices (no published source); the register here is made by hand.
"""

import json
import shutil
from datetime import date
from pathlib import Path

import pytest

from regdash import cohort
from regdash.errors import LinkError, PolicyError
from regdash.intake.receive import receive
from regdash.reports.desk import Desk
from regdash.store.audit import audit_lines
from regdash.store.cuts import Manifest, find_cut
from regdash.store.freeze import freeze
from regdash.store.link_decisions import decisions_known
from regdash.store.links import accept, candidates, link_shares, undo
from tests.intake.other_joints import catalogue as hips
from tests.intake.other_joints import primary_of
from tests.intake.small_register import Row, SmallRegister, component, primary, revision, total_knee
from tests.store.linking import asked, link_of, on

THROUGH = date(2010, 12, 31)
LINKED, NEAR, SWAPPED, SERIAL, OTHER_SIDE, LONELY = (f"H002-000000{n}" for n in range(1, 7))


def serial(row: Row, number: str) -> Row:
    return row | {"serial": number}


@pytest.fixture(scope="module")
def untouched(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with one cut, and one revision for each way to be linked or not."""
    folder = tmp_path_factory.mktemp("links")
    register = SmallRegister(folder / "in")
    register.catalogue()
    register.units()
    rows = [
        primary("H001-0000001", 111_111_111, "2005-01-05"),
        primary("H001-0000002", 222_222_222, "2005-01-06"),
        primary("H001-0000003", 345_678_912, "2005-01-07"),
        primary("H001-0000004", 456_456_456, "2005-01-08", sex="male"),
        primary("H001-0000005", 567_567_567, "2005-01-09"),
        primary("H001-0000006", 222_222_227, "2005-01-06", sex="male"),
    ]
    parts = [line for row in rows for line in total_knee(row["operation_id"])]
    parts = [serial(p, "SN77001") if (p["operation_id"], p["line_no"]) == ("H001-0000004", "1") else p for p in parts]
    register.operations("2011-01-15", rows, parts, complete="2010-12-31")
    rows = [
        revision(LINKED, 111_111_111, "2006-01-05"),
        revision(NEAR, 222_222_223, "2006-01-06"),
        revision(SWAPPED, 345_687_912, "2006-01-07"),
        revision(SERIAL, 999_000_111, "2006-01-08"),
        revision(OTHER_SIDE, 567_567_567, "2006-01-09", side="right"),
        revision(LONELY, 888_000_222, "2009-01-10"),
    ]
    parts = [
        component(NEAR, 1, "femoral", "KF001-3A", "removed"),
        serial(component(SERIAL, 1, "femoral", "KF001-3A", "removed"), "SN77001"),
    ]
    register.operations("2011-01-15", rows, parts, hospital="H002", complete="2010-12-31")
    register.deaths("2011-01-31", {}, complete="2010-12-31")
    assert not receive(folder / "store", [folder / "in"]).refused
    freeze(folder / "store", THROUGH)
    return folder / "store"


@pytest.fixture
def store(untouched: Path, tmp_path: Path) -> Path:
    """A copy that a test may write to."""
    return Path(shutil.copytree(untouched, tmp_path / "store"))


def test_candidates_say_how_they_were_found_and_how_sure_that_is(store):
    _, found = candidates(store)
    said = {(c.revision_id, c.primary_id, c.method, c.confidence, c.is_held) for c in found}
    assert said == {
        (NEAR, "H001-0000002", "near pseudonym", "likely", False),  # the other near one is a man
        (SWAPPED, "H001-0000003", "near pseudonym", "possible", False),  # no component taken out is listed
        (SERIAL, "H001-0000004", "same serial number", "possible", False),  # another sex
        (OTHER_SIDE, "H001-0000005", "primary on the other side", "possible", True),
    }


def test_every_unlinked_revision_has_a_class_and_the_held_one_is_no_link(store):
    causes = dict(asked(store, "select operation_id, cause from links where cause is not null"))
    suspected = "linkage failure suspected"
    assert causes == {NEAR: suspected, SWAPPED: suspected, SERIAL: suspected, LONELY: "unknown"}
    assert link_of(store, LINKED)[:5] == ("H001-0000001", "same patient, joint and side", "certain", None, "rule")


def test_an_accepted_link_counts_from_the_next_freeze_on(store, monkeypatch):
    before = find_cut(store)
    on(monkeypatch, "2012-05-01")
    accept(store, NEAR, "H001-0000002", "one digit was mistyped")
    after = freeze(store, THROUGH)
    method = ("H001-0000002", "near pseudonym", "likely", None, "analyst 1", date(2012, 5, 1))
    assert link_of(store, NEAR) == method
    assert (before.revisions, after.revisions) == (1, 2)
    [(days, ended)] = asked(store, "select days, ended from follow_up where operation_id = 'H001-0000002'")
    assert (days, ended) == (365, "revised")
    assert after.settings["link_decisions"]["standing"] == 1
    assert [c.revision_id for c in candidates(store)[1]] == [SWAPPED, SERIAL, OTHER_SIDE]


def test_a_link_that_the_records_make_can_be_undone_and_then_counts_in_no_risk(store, monkeypatch):
    on(monkeypatch, "2012-05-01")
    undo(store, LINKED, "the hospital says it is another patient")
    after = freeze(store, THROUGH, because="the one link was wrong")
    assert after.revisions == 0
    assert link_of(store, LINKED) == (None, "not linked", None, "link undone", "analyst 1", date(2012, 5, 1))
    _, shares = link_shares(store, by=("class",), hospital="H002", unlinked=True)
    assert {one.group: one.revisions for one in shares}[("link undone",)] == 1


def test_an_undone_link_can_be_accepted_again_and_every_decision_is_kept(store, monkeypatch):
    on(monkeypatch, "2012-05-01")
    undo(store, LINKED, "doubt")
    accept(store, LINKED, "H001-0000001", "the doubt was wrong")
    freeze(store, THROUGH)
    assert link_of(store, LINKED)[:2] == ("H001-0000001", "same patient, joint and side")
    assert [(d.number, d.decision, d.superseded_by) for d in decisions_known(store)] == [
        (1, "undone", 2),
        (2, "accepted", None),
    ]


@pytest.mark.slow  # four cuts
def test_a_past_cut_is_made_again_with_the_decisions_of_its_day(store, monkeypatch):
    without = find_cut(store)
    on(monkeypatch, "2012-05-01")
    accept(store, NEAR, "H001-0000002", "one digit")
    first = freeze(store, THROUGH)
    on(monkeypatch, "2012-06-01")
    undo(store, NEAR, "the hospital corrects it itself")
    accept(store, SWAPPED, "H001-0000003", "two digits swapped")
    later = freeze(store, THROUGH)
    again = [freeze(store, THROUGH, date.fromisoformat(m.known_as_of)) for m in (without, first, later)]
    assert [m.content_hash for m in again] == [m.content_hash for m in (without, first, later)]
    assert [m.settings for m in again] == [m.settings for m in (without, first, later)]
    assert len({m.content_hash for m in again}) == 3


@pytest.mark.slow  # two stores
def test_equal_decisions_and_equal_data_make_an_equal_cut(store, monkeypatch):
    on(monkeypatch, "2012-05-01")
    accept(store, NEAR, "H001-0000002", "one digit")
    one, other = freeze(store, THROUGH), freeze(store, THROUGH)
    assert same(one) == same(other)


def same(manifest: Manifest) -> dict:
    told = json.loads(manifest.to_json())
    return {key: value for key, value in told.items() if key not in ("cut", "compared")}


@pytest.mark.slow  # two cuts
def test_a_decision_that_the_records_contradict_later_is_not_applied(store, tmp_path, monkeypatch):
    on(monkeypatch, "2012-05-01")
    accept(store, SWAPPED, "H001-0000003", "two digits swapped")
    register = SmallRegister(tmp_path / "more")
    late = [primary("H001-0000003", 345_678_912, "2006-02-07")]
    register.operations("2012-07-01", late, sequence=9)
    (tmp_path / "more" / "H001-0009").rename(tmp_path / "more" / "corrected")
    receive(store, [tmp_path / "more"])
    freeze(store, THROUGH)
    assert link_of(store, SWAPPED)[0] is None


@pytest.mark.parametrize(
    ("revision_id", "primary_id", "told"),
    [
        (OTHER_SIDE, "H001-0000005", "for its hospital to correct"),
        (LINKED, "H001-0000002", "Undo that first"),
        (LINKED, "H001-0000001", "already"),
        (NEAR, LINKED, "no primary H002"),
        ("H009-1", "H001-0000001", "no revision H009-1"),
        ("H001-0000001", "H001-0000002", "no revision H001-0000001"),
    ],
)
def test_what_cannot_be_accepted_is_refused_in_a_sentence(store, revision_id, primary_id, told):
    with pytest.raises(LinkError, match=told):
        accept(store, revision_id, primary_id, "why not")
    assert decisions_known(store) == []


def test_a_decision_needs_a_reason_and_a_link_to_undo(store):
    with pytest.raises(LinkError, match="Say why"):
        accept(store, NEAR, "H001-0000002", "  ")
    with pytest.raises(LinkError, match="no link to undo"):
        undo(store, LONELY, "because")


def test_shares_add_up_however_they_are_counted(store):
    for by in (("hospital", "year"), ("method",), ("joint", "confidence"), ()):
        _, shares = link_shares(store, by=by)
        assert (sum(s.revisions for s in shares), sum(s.linked for s in shares)) == (5, 1)


@pytest.mark.slow  # three cuts
def test_two_stages_of_a_hip_are_one_episode_once_a_person_joined_the_second(tmp_path, monkeypatch):
    register = SmallRegister(tmp_path / "in")
    register.catalogue()
    hips(register)
    register.units()
    row, parts = primary_of("total hip", "H001-0000001", 222_222_222, "2005-01-06")
    first = revision("H001-0000002", 222_222_222, "2009-01-05", joint="hip", patella="")
    first |= {"stage": "first-of-two", "action": "removal-with-spacer"}
    second = revision("H001-0000003", 222_222_223, "2009-03-05", joint="hip", patella="")
    second |= {"stage": "second-of-two", "action": "reimplantation"}
    register.operations("2011-01-15", [row, first, second], parts)
    receive(tmp_path / "store", [tmp_path / "in"])
    query = "select operation_id, stage, reimplanted_day - day from revision_episodes"
    freeze(tmp_path / "store", THROUGH)
    assert asked(tmp_path / "store", query) == [("H001-0000002", "first of two", None)]
    on(monkeypatch, "2012-05-01")
    accept(tmp_path / "store", "H001-0000003", "H001-0000001", "one digit")
    freeze(tmp_path / "store", THROUGH)
    assert asked(tmp_path / "store", query) == [("H001-0000002", "first of two", 59)]


def test_a_desk_lists_what_is_open_and_what_was_decided_and_sets_two_records_side_by_side(store, monkeypatch):
    on(monkeypatch, "2012-05-01")
    desk = Desk(store)
    rows = desk.link_review(cohort.parse("joint=knee hospital=H002")).rows
    assert {(r.revision, r.primary, r.state) for r in rows} == {
        (c.revision_id, c.primary_id, "open") for c in candidates(store)[1]
    }
    assert desk.link_review(cohort.parse("joint=hip")).rows == ()
    lines = {
        line.field: (line.revision, line.primary, line.same) for line in desk.link_pair(NEAR, "H001-0000002").lines
    }
    assert lines["patient"] == ("P222222223", "P222222222", False)
    assert lines["side"] == ("left", "left", True)
    assert lines["date"] == ("2006-01-06", "2005-01-06", None)
    assert lines["femoral: out, in"] == ("KF001-3A lot L1", "KF001-3A lot L1", True)
    desk.accept_link(NEAR, "H001-0000002", "one digit was mistyped")
    desk.undo_link(LINKED, "the hospital says so")
    decided = {(r.revision, r.state, r.decided) for r in desk.link_review(cohort.parse("")).rows if r.state != "open"}
    assert decided == {
        (NEAR, "accepted", "analyst 1, 2012-05-01: one digit was mistyped"),
        (LINKED, "undone", "analyst 1, 2012-05-01: the hospital says so"),
    }
    with pytest.raises(LinkError, match="joined to no primary"):
        desk.undo_link(LONELY, "a guess")
    acts = [(line.what, line.subject, line.outcome[:8]) for line in audit_lines(store)]
    assert acts == [
        ("link-accepted", NEAR, "done"),
        ("link-undone", LINKED, "done"),
        ("link-undone", LONELY, "refused:"),
    ]
    with pytest.raises(PolicyError, match="withheld"):
        Desk(store, withhold_counts_under=5).link_review(cohort.parse(""))
