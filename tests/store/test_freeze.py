"""
A cut says what was known, counts follow-up as the trade does, and can be made again.

How follow-up ends, two stages as one episode and which reason leads are common practice of registry
offices (no published source); the dates and days here are worked out by hand.
"""

import errno
import json
import stat
from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import pytest

from regdash.errors import StoreError
from regdash.intake.receive import receive
from regdash.store.cuts import Manifest, cut_path, find_cut, list_cuts
from regdash.store.freeze import freeze
from tests.intake.small_register import SmallRegister, component, partial, primary, reason, revision

THROUGH = date(2010, 12, 31)


def rows_of(store: Path, manifest: Manifest, query: str) -> list[tuple[Any, ...]]:
    with duckdb.connect(str(cut_path(store, manifest.cut)), read_only=True) as cut:
        return cut.execute(query).fetchall()


@pytest.fixture(scope="module")
def frozen(tmp_path_factory) -> tuple[Path, Manifest]:
    """A register with one joint for each way in which follow-up can end."""
    folder = tmp_path_factory.mktemp("frozen")
    register = SmallRegister(folder / "in")
    register.catalogue()
    register.units()
    day = "2008-01-01"
    rows = [primary(f"H001-{n:07d}", n, day) for n in range(1, 9)]
    rows += [partial("H001-0000009", 9, day), primary("H002-0000001", 10, day)]
    rows += [primary("H001-0000011", 11, "2010-11-01"), primary("H002-0000002", 12, "2010-11-01")]
    rows += [primary("H001-0000013", 13, "1999-06-01"), partial("H001-0000014", 14, day, patella="resurfaced")]
    revisions = [
        revision("H001-0000101", 1, "2009-01-01"),
        revision("H001-0000102", 1, "2009-06-01", action="bearing-exchange-only"),
        revision("H001-0000103", 2, "2008-01-01"),
        revision("H001-0000104", 4, "2009-03-01"),
        revision("H001-0000105", 6, "2010-12-31"),
        revision("H001-0000106", 7, "2008-05-01", stage="first-of-two", action="removal-with-spacer", stem_used="no"),
        revision("H001-0000107", 7, "2008-09-01", stage="second-of-two", action="reimplantation", graft_used="yes"),
        revision("H001-0000108", 8, "2008-05-01", stage="first-of-two", action="removal-with-spacer"),
        revision("H001-0000109", 8, "2009-05-02", stage="second-of-two", action="reimplantation"),
        revision("H001-0000110", 9, "2010-01-01", action="partial-to-total"),
        revision("H001-0000111", 10, "2010-11-15"),
        revision("H001-0000112", 14, "2009-01-01", surgeon_id="S0099"),
    ]
    reasons = [reason(row["operation_id"]) for row in revisions if row["stage"] != "second-of-two"]
    reasons = [r for r in reasons if r["operation_id"] != "H001-0000110"]
    reasons += [
        reason("H001-0000110", "instability", "", 1),
        reason("H001-0000110", "progression-of-disease", "", 2),
        reason("H001-0000102", "instability", "", 2),
    ]
    parts = [row for r in rows for row in _parts(r)]
    parts += [
        component("H001-0000101", 1, "bearing-insert", "KI001-3A", "removed"),
        component("H001-0000101", 2, "bearing-insert", "KI001-3A"),
        component("H001-0000102", 1, "bearing-insert", "KI001-3A", "removed"),
        component("H001-0000102", 2, "bearing-insert", "KI001-3A"),
        component("H001-0000110", 1, "femoral", "KF001-3A"),
        component("H001-0000110", 2, "tibial", "", "removed"),
    ]
    own = [row for row in (*rows, *revisions) if row["hospital_id"] == "H001"]
    other = [row for row in rows if row["hospital_id"] == "H002"]
    register.operations("2011-01-31", own, parts, reasons, complete="2010-12-31")
    register.operations("2011-01-31", other, hospital="H002", complete="2010-10-31")
    register.deaths("2011-01-31", {3: "2008-07-01", 4: "2009-03-01", 1: "2010-01-01", 5: "2011-01-05"})
    register.losses("2011-01-31", {5: "2008-08-01", 3: "2009-01-01"})
    receive(folder / "store", [folder / "in"])
    return folder / "store", freeze(folder / "store", THROUGH)


def _parts(row: dict[str, str]) -> list[dict[str, str]]:
    letter = "U" if row["class"] == "partial" else "K"
    roles = (("femoral", "F"), ("tibial", "T"), ("bearing-insert", "I"))
    return [component(row["operation_id"], n, role, f"{letter}{c}001-3A") for n, (role, c) in enumerate(roles, 1)]


@pytest.fixture(scope="module")
def followed(frozen) -> dict[str, dict[str, Any]]:
    """Rows of follow_up by the number of the primary."""
    with duckdb.connect(str(cut_path(frozen[0], frozen[1].cut)), read_only=True) as cut:
        names = [row[0] for row in cut.execute("describe follow_up").fetchall()]
        rows = cut.execute("from follow_up").fetchall()
    return {joint["operation_id"]: joint for joint in (dict(zip(names, row)) for row in rows)}


def ended(joint: dict[str, Any]) -> tuple[str, int]:
    return joint["ended"], joint["days"]


def test_follow_up_ends_with_the_first_revision(followed):
    joint = followed["H001-0000001"]
    assert ended(joint) == ("revised", 366)
    assert (joint["revision_operation_id"], joint["revision_date"]) == ("H001-0000101", date(2009, 1, 1))
    assert (joint["reason"], joint["reason_group"]) == ("infection", "infection")
    assert joint["stem_used"] is True
    assert joint["graft_used"] is False


def test_a_death_after_a_revision_is_known_and_ends_nothing(followed):
    assert followed["H001-0000001"]["died_day"] == 731


def test_a_revision_on_the_day_of_the_primary_is_an_event_on_day_0(followed):
    assert ended(followed["H001-0000002"]) == ("revised", 0)


def test_a_death_before_a_loss_ends_follow_up(followed):
    assert ended(followed["H001-0000003"]) == ("died", 182)


def test_a_revision_and_a_death_on_one_day_is_a_revision(followed):
    joint = followed["H001-0000004"]
    assert ended(joint) == ("revised", 425)
    assert joint["died_day"] == 425


def test_a_loss_ends_follow_up(followed):
    assert ended(followed["H001-0000005"]) == ("lost", 213)


def test_a_death_after_the_through_date_is_not_known_to_the_cut(frozen, followed):
    assert followed["H001-0000005"]["died_day"] is None
    query = "select count(*) from deaths where patient_id = 'P000000005'"
    assert rows_of(*frozen, query) == [(0,)]


def test_a_revision_on_the_last_day_counts(followed):
    assert ended(followed["H001-0000006"]) == ("revised", 1095)


def test_what_is_not_revised_has_no_fields_of_a_revision(followed):
    joint = followed["H001-0000003"]
    names = ("reason", "reason_group", "action", "stem_used", "augment_used", "graft_used", "revision_date")
    assert [joint[name] for name in (*names, "revision_operation_id")] == [None] * 8


def test_follow_up_ends_where_the_own_hospital_is_no_longer_complete(followed):
    """H002 is complete through October; a revision elsewhere in November is not counted."""
    assert ended(followed["H002-0000001"]) == ("in place", 1034)


def test_a_joint_implanted_after_its_hospital_is_complete_is_not_followed_yet(followed):
    assert "H001-0000011" in followed
    assert "H002-0000002" not in followed


def test_a_held_primary_is_not_followed(followed):
    assert "H001-0000013" not in followed


def test_a_reason_is_led_by_the_vocabulary_where_none_is_marked(followed):
    """Progression of disease stands before instability in the order of reasons."""
    joint = followed["H001-0000009"]
    assert (joint["reason"], joint["action"]) == ("progression of disease", "partial to total")


def test_two_stages_are_one_episode_with_the_extras_of_both(frozen, followed):
    number = followed["H001-0000007"]["joint_no"]
    query = f"select day, stage, action, graft_used, stem_used from revision_episodes where joint_no = {number}"
    assert rows_of(*frozen, query) == [(121, "first of two", "removal with spacer", True, True)]


def test_a_second_stage_more_than_a_year_later_is_an_episode_of_its_own(frozen, followed):
    number = followed["H001-0000008"]["joint_no"]
    query = f"select sequence, day, stage, reason_group from revision_episodes where joint_no = {number} order by 1"
    assert rows_of(*frozen, query) == [
        (1, 121, "first of two", "infection"),
        (2, 487, "second of two", "not recorded"),
    ]


def test_a_held_revision_names_the_joint_it_would_belong_to(frozen, followed):
    number = followed["H001-0000014"]["joint_no"]
    assert rows_of(*frozen, "from held_revisions") == [("H001-0000112", number, "surgeon-unknown")]
    assert ended(followed["H001-0000014"]) == ("in place", 1095)


def test_the_class_decides_what_is_not_applicable(followed):
    total, half = followed["H001-0000001"], followed["H001-0000009"]
    assert (total["compartment"], half["compartment"]) == ("not applicable", "medial")
    assert (total["constraint_design"], half["constraint_design"]) == ("cruciate-retaining", "not applicable")
    assert (total["construct"], half["construct"]) == ("KF-001/KT-001", "UF-001/UT-001")


def test_each_component_lives_from_the_day_it_went_in_to_the_day_it_came_out(frozen, followed):
    number = followed["H001-0000001"]["joint_no"]
    query = f"""
        select role, in_day, out_day, out_reason from component_life where joint_no = {number} order by role, in_day
    """
    assert rows_of(*frozen, query) == [
        ("femoral", 0, None, None),
        ("tibial", 0, None, None),
        ("bearing insert", 0, 366, "infection"),
        ("bearing insert", 366, 517, "infection"),
        ("bearing insert", 517, None, None),
    ]


def test_a_removal_without_a_number_and_a_replacement_without_a_removal_end_a_life(frozen, followed):
    number = followed["H001-0000009"]["joint_no"]
    query = f"select implant, in_day, out_day from component_life where joint_no = {number} order by implant"
    assert rows_of(*frozen, query) == [
        ("KF-001", 731, None),
        ("UF-001", 0, 731),
        ("UI-001", 0, None),
        ("UT-001", 0, 731),
    ]


def test_episodes_and_follow_up_agree_on_who_is_revised(frozen):
    query = """
        select count(*) from follow_up as f
        full join (from revision_episodes where sequence = 1) as e on e.joint_no = f.joint_no
        where (f.ended = 'revised') is distinct from (e.joint_no is not null)
            or f.days is distinct from coalesce(e.day, f.days)
    """
    assert rows_of(*frozen, query) == [(0,)]


def test_the_manifest_counts_what_the_cut_holds(frozen):
    store, manifest = frozen
    assert (manifest.cut, manifest.through_date, manifest.known_as_of) == ("2010-12-31.1", "2010-12-31", "2011-01-31")
    # 14 primaries; one held (the hospital had not joined), one not followed yet.
    assert (manifest.joints, manifest.patients, manifest.revisions) == (12, 12, 7)
    assert manifest.complete_through["operations"] == {"H001": "2010-12-31", "H002": "2010-10-31"}
    assert manifest.complete_through["deaths"] == "2011-01-31"
    for table, rows in manifest.rows.items():
        assert rows_of(store, manifest, f"select count(*) from {table}") == [(rows,)]


def test_the_manifest_stands_beside_the_cut_and_in_it(frozen):
    store, manifest = frozen
    assert find_cut(store) == manifest
    facts = dict(rows_of(store, manifest, "from cut_facts"))
    assert facts["content_hash"] == manifest.content_hash
    assert facts["joints"] == str(manifest.joints)
    assert json.loads(facts["complete_through"]) == manifest.complete_through


def test_files_are_for_the_group_and_nothing_is_left_beside_them(frozen):
    store = frozen[0]
    assert sorted(path.name for path in (store / "cuts").iterdir()) == ["2010-12-31.1.duckdb", "2010-12-31.1.json"]
    modes = {path.name: stat.S_IMODE(path.stat().st_mode) for path in (store / "cuts").iterdir()}
    assert set(modes.values()) == {0o664}
    assert stat.S_IMODE((store / "cuts").stat().st_mode) == stat.S_IMODE(store.stat().st_mode) == 0o775
    assert stat.S_IMODE((store / "registry.duckdb").stat().st_mode) == 0o664


def test_a_cut_made_again_is_numbered_and_equal(frozen, tmp_path):
    store, manifest = frozen
    again = freeze(store, THROUGH)
    assert again.cut == "2010-12-31.2"
    assert again.content_hash == manifest.content_hash
    assert [m.cut for m in list_cuts(store)] == ["2010-12-31.1", "2010-12-31.2"]
    for suffix in ("duckdb", "json"):
        (store / "cuts" / f"2010-12-31.2.{suffix}").unlink()


def test_every_table_column_and_view_of_a_cut_says_what_it_is(frozen):
    query = """
        select table_name from duckdb_tables() where comment is null
        union all select view_name from duckdb_views() where not internal and comment is null
        union all select table_name || '.' || column_name from duckdb_columns() where not internal and comment is null
    """
    assert rows_of(*frozen, query) == []


def test_every_table_and_column_of_the_store_says_what_it_is(frozen):
    query = """
        select table_name from duckdb_tables() where comment is null
        union all select table_name || '.' || column_name from duckdb_columns() where not internal and comment is null
    """
    with duckdb.connect(str(frozen[0] / "registry.duckdb"), read_only=True) as connection:
        assert connection.execute(query).fetchall() == []


def test_a_cut_before_the_first_submission_is_refused(frozen):
    with pytest.raises(StoreError, match=r"Nothing was known .* on 1999-01-01; the first submission .* 2000-01-01"):
        freeze(frozen[0], date(1998, 12, 31), date(1999, 1, 1))


def test_a_cut_through_a_day_that_nothing_was_received_after_is_refused(frozen):
    with pytest.raises(StoreError, match="A cut through 2030-01-01 cannot be made"):
        freeze(frozen[0], date(2030, 1, 1))


def test_a_cut_that_fails_leaves_nothing_behind(frozen):
    before = sorted(path.name for path in (frozen[0] / "cuts").iterdir())

    def fail(what: str, done: int, total: int) -> None:
        if what == "making the cut" and done == total - 1:
            raise OSError(errno.ENOSPC, "No space left on device")

    with pytest.raises(StoreError, match=r"store cannot be written: No space left on device\.$"):
        freeze(frozen[0], THROUGH, progress=fail)
    assert sorted(path.name for path in (frozen[0] / "cuts").iterdir()) == before
