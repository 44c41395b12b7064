"""
Hips and shoulders from submitted rows to a data cut: what names them, what they are made of, what revisions did.

Which two components name a construct, which of them are fixed to bone, and that head, liner and glenosphere can be
exchanged while those stay, is common practice of registry offices (no published source); worked out by hand.
"""

from datetime import date
from typing import Any

import duckdb
import pytest

from regdash.intake.receive import receive
from regdash.store.cuts import cut_path
from regdash.store.freeze import freeze
from tests.intake.other_joints import PRIMARIES, catalogue, parts, primary_of
from tests.intake.small_register import SmallRegister, revision

IMPLANTED, THROUGH = "2008-01-01", date(2010, 12, 31)
OUT, IN = "removed", "implanted"
Line = tuple[str, str]  # catalogue number, action


def swapped(*numbers: str) -> tuple[Line, ...]:
    return tuple((number, action) for number in numbers for action in (OUT, IN))


HEAD_AND_LINER = swapped("HH001-36A", "HL001-36A")
CUP_IN = (("HC001-52A", IN), ("HL001-36A", IN), ("HH001-36A", IN))
REVERSE_IN = (("SP001-3A", IN), ("SO001-38A", IN), ("SU001-38A", IN))
STAGE_ONE = ("2009-01-01", "first-of-two", "removal-with-spacer", ())

# One joint each: its primary, then its operations: day, stage, action, the components that are listed.
STORIES: dict[str, tuple[str, list[tuple[str, str, str, tuple[Line, ...]]]]] = {
    "head and liner exchanged": (
        "total hip",
        [("2009-01-01", "single", "bearing-exchange-only", HEAD_AND_LINER)],
    ),
    "head and liner exchanged, nothing listed": ("total hip", [("2009-01-01", "single", "bearing-exchange-only", ())]),
    "head exchanged, removal forgotten": (
        "total hip",
        [("2009-01-01", "single", "bearing-exchange-only", (("HH001-36A", IN),))],
    ),
    "cup exchanged": ("total hip", [("2009-01-01", "single", "one-component-exchanged", swapped("HC001-52A"))]),
    "cup of another kind, removal forgotten": (
        "total hip",
        [("2009-01-01", "single", "one-component-exchanged", (("HO001-50A", IN),))],
    ),
    "everything exchanged, nothing listed": (
        "total hip",
        [("2009-01-01", "single", "all-components-exchanged", ())],
    ),
    "hip in two stages": (
        "total hip",
        [STAGE_ONE, ("2009-03-02", "second-of-two", "reimplantation", (("HS001-2A", IN), *CUP_IN))],
    ),
    "hip, first stage open": ("total hip", [("2010-06-01", "first-of-two", "removal-with-spacer", ())]),
    "hemi made total": (
        "hemi hip",
        [("2009-01-01", "single", "hemi-to-total", (("HM001-44A", OUT), *CUP_IN))],
    ),
    "hemi made total by its components, removal forgotten": (
        "hemi hip",
        [("2009-01-01", "single", "component-added", CUP_IN[:1]), ("2009-06-01", "single", "", CUP_IN[1:])],
    ),
    "hemi made total, nothing listed": ("hemi hip", [("2009-01-01", "single", "hemi-to-total", ())]),
    # The stem that goes in is made for totals, but no cup does.
    "stem of a hemi exchanged": (
        "hemi hip",
        [("2009-01-01", "single", "one-component-exchanged", (("HS001-2A", OUT), ("HS002-2A", IN)))],
    ),
    "hemi head exchanged": ("hemi hip", [("2009-01-01", "single", "bearing-exchange-only", swapped("HM001-44A"))]),
    "resurfacing made total": (
        "resurfacing hip",
        [("2009-01-01", "single", "one-component-exchanged", (("HS001-2A", IN), ("HH001-36A", IN)))],
    ),
    "anatomic made reverse": (
        "anatomic shoulder",
        [("2009-01-01", "single", "anatomic-to-reverse", (("SG001-3A", OUT), ("SH001-46A", OUT), *REVERSE_IN))],
    ),
    "anatomic made reverse by its components": (
        "stemless anatomic shoulder",
        [("2009-01-01", "single", "all-components-exchanged", (("SS001-2A", IN), *REVERSE_IN))],
    ),
    "anatomic made reverse, nothing listed": (
        "anatomic shoulder",
        [("2009-01-01", "single", "anatomic-to-reverse", ())],
    ),
    "glenosphere exchanged": (
        "reverse shoulder",
        [("2009-01-01", "single", "one-component-exchanged", swapped("SO001-38A"))],
    ),
    "hemi shoulder made anatomic": (
        "hemi shoulder",
        [("2009-01-01", "single", "hemi-to-total", (*swapped("SH001-46A"), ("SG001-3A", IN)))],
    ),
    "resurfacing made reverse": (
        "resurfacing hemi shoulder",
        [("2009-01-01", "single", "all-components-exchanged", (("SS001-2A", IN), *REVERSE_IN))],
    ),
    "shoulder in two stages": (
        "reverse shoulder",
        [STAGE_ONE, ("2009-03-02", "second-of-two", "reimplantation", (("SS001-2A", IN), *REVERSE_IN))],
    ),
}
NAMES = [*PRIMARIES, *STORIES]  # joints that stay, then joints that are revised: patients from 1


@pytest.fixture(scope="module")
def cut(tmp_path_factory) -> duckdb.DuckDBPyConnection:
    folder = tmp_path_factory.mktemp("others")
    register = SmallRegister(folder / "in")
    register.catalogue()
    catalogue(register)
    register.units()
    rows, components = [], []
    for number, name in enumerate(NAMES, 1):
        kind, story = STORIES.get(name, (name, []))
        row, lines = primary_of(kind, f"H001-{number:04d}000", number, IMPLANTED)
        rows, components = [*rows, row], components + lines
        for n, (day, stage, action, listed) in enumerate(story, 1):
            operation = f"H001-{number:04d}{n:03d}"
            rows.append(revision(operation, number, day, stage=stage, action=action, joint=row["joint"], patella=""))
            components += parts(operation, list(listed))
    register.operations("2011-01-31", rows, components, complete="2010-12-31")
    receive(folder / "store", [folder / "in"])
    return duckdb.connect(str(cut_path(folder / "store", freeze(folder / "store", THROUGH).cut)), read_only=True)


def asked(cut: duckdb.DuckDBPyConnection, query: str, name: str) -> list[dict[str, Any]]:
    found = cut.execute(query, {"patient": f"P{NAMES.index(name) + 1:09d}"})
    columns = [column[0] for column in found.description]
    return [dict(zip(columns, row)) for row in found.fetchall()]


def joint(cut: duckdb.DuckDBPyConnection, name: str) -> dict[str, Any]:
    (row,) = asked(cut, "from follow_up where patient_id = $patient", name)
    return row


def episodes(cut: duckdb.DuckDBPyConnection, name: str) -> list[dict[str, Any]]:
    query = "select e.* from revision_episodes as e join follow_up as f on f.joint_no = e.joint_no"
    return asked(cut, f"{query} where f.patient_id = $patient order by e.sequence", name)


def test_every_joint_is_in_the_cut(cut):
    assert cut.execute("select count(*) from follow_up").fetchall() == [(len(NAMES),)]
    assert cut.execute("select count(*) from held_revisions").fetchall() == [(0,)]


# ---- what names a joint, and what it is made of -----------------------------------------------


@pytest.mark.parametrize(
    ("name", "construct"),
    [
        ("total hip", "HS-001/HC-001"),
        ("total hip, one-piece cup", "HS-001/HO-001"),
        ("total hip, dual mobility", "HS-001/HC-001"),
        ("hemi hip", "HS-001/HM-001"),
        ("resurfacing hip", "HR-001/HP-001"),
        ("anatomic shoulder", "SS-001/SG-001"),
        ("stemless anatomic shoulder", "SB-001/ST-001"),
        ("reverse shoulder", "SS-001/SP-001"),
        ("hemi shoulder", "SS-001/SH-001"),
        ("resurfacing hemi shoulder", "SR-001"),  # a resurfacing head is the humeral head too
    ],
)
def test_a_construct_is_named_by_the_roles_of_its_class(cut, name, construct):
    assert joint(cut, name)["construct"] == construct


@pytest.mark.parametrize(
    ("name", "couple", "head", "bearing"),
    [
        ("total hip", "ceramic on highly cross-linked polyethylene", 36, "standard"),
        ("total hip, one-piece cup", "metal on standard polyethylene", 28, "standard"),
        # The head moves in the dual-mobility bearing, and that in its metal liner.
        ("total hip, dual mobility", "metal on antioxidant polyethylene", 28, "dual mobility"),
        ("total hip, no head listed", "not recorded", None, "standard"),
        ("resurfacing hip", "metal on metal", 48, "standard"),
        ("hemi hip", "not applicable", None, "not applicable"),
        ("reverse shoulder", "not applicable", None, "not applicable"),
    ],
)
def test_couple_and_head_of_a_hip_are_the_catalogues(cut, name, couple, head, bearing):
    row = joint(cut, name)
    assert (row["bearing_couple"], row["head_size"], row["bearing"]) == (couple, head, bearing)


@pytest.mark.parametrize(
    ("name", "design"),
    [
        ("anatomic shoulder", "stemmed"),
        ("stemless anatomic shoulder", "stemless"),
        ("resurfacing hemi shoulder", "resurfacing"),
        ("total hip", "not applicable"),
        ("resurfacing hip", "not applicable"),
    ],
)
def test_the_humeral_design_of_a_shoulder_follows_from_what_was_put_in(cut, name, design):
    assert joint(cut, name)["humeral_design"] == design


def test_what_only_knees_have_is_not_applicable_to_others(cut):
    query = "select distinct compartment, constraint_design, patella from follow_up"
    assert cut.execute(query).fetchall() == [("not applicable",) * 3]


def test_roles_of_the_primary_are_powers_of_two_by_their_place_in_the_list(cut):
    """As the comment on the column says."""
    query = (
        "select distinct c.role::varchar from component_life as c join follow_up as f on f.joint_no = c.joint_no"
        " where f.primary_roles & (1::uinteger << enum_code(c.role)::integer) = 0 and c.in_day = 0"
    )
    assert cut.execute(query).fetchall() == []
    counts = "select count(*) from follow_up where bit_count(primary_roles) = 4 and patient_id = 'P000000001'"
    assert cut.execute(counts).fetchall() == [(1,)]


# ---- what revisions did -----------------------------------------------------------------------

FLAGS = ("bone_fixed_removed", "bearing_only", "patella_added_only", "to_total", "to_reverse", "emptied")


@pytest.mark.parametrize(
    ("name", "true"),
    [
        ("head and liner exchanged", {"bearing_only"}),
        ("head and liner exchanged, nothing listed", {"bearing_only"}),
        ("head exchanged, removal forgotten", {"bearing_only"}),
        ("cup exchanged", {"bone_fixed_removed"}),
        ("cup of another kind, removal forgotten", {"bone_fixed_removed"}),
        ("everything exchanged, nothing listed", {"bone_fixed_removed"}),
        ("hip in two stages", {"bone_fixed_removed", "emptied"}),
        ("hip, first stage open", {"bone_fixed_removed", "emptied"}),
        ("hemi made total", {"to_total"}),  # the stem stays
        ("hemi made total by its components, removal forgotten", {"to_total"}),
        ("hemi made total, nothing listed", {"to_total"}),
        ("hemi head exchanged", {"bearing_only"}),
        ("stem of a hemi exchanged", {"bone_fixed_removed"}),
        ("resurfacing made total", {"bone_fixed_removed"}),
        ("anatomic made reverse", {"bone_fixed_removed", "to_reverse"}),
        ("anatomic made reverse by its components", {"bone_fixed_removed", "to_reverse"}),
        ("anatomic made reverse, nothing listed", {"bone_fixed_removed", "to_reverse"}),
        ("glenosphere exchanged", {"bearing_only"}),
        ("hemi shoulder made anatomic", {"to_total"}),
        ("resurfacing made reverse", {"bone_fixed_removed", "to_total"}),
        ("shoulder in two stages", {"bone_fixed_removed", "emptied"}),
    ],
)
def test_what_a_revision_did_follows_from_its_components_or_its_action(cut, name, true):
    first = episodes(cut, name)[0]
    assert {flag for flag in FLAGS if first[flag]} == true


OUT_DAY = 366  # 2009-01-01


@pytest.mark.parametrize(
    ("name", "out"),
    [
        ("head and liner exchanged", {"head", "liner"}),
        ("head and liner exchanged, nothing listed", {"head", "liner"}),
        ("head exchanged, removal forgotten", {"head"}),
        ("cup of another kind, removal forgotten", {"shell"}),
        ("everything exchanged, nothing listed", {"femoral stem", "shell", "head", "liner"}),
        ("hemi made total", {"hemi head"}),
        ("hemi made total, nothing listed", {"hemi head"}),
        ("resurfacing made total", {"resurfacing head"}),
        # The stem may stay and carry a liner: only what cannot stay is taken to be out.
        ("anatomic made reverse, nothing listed", {"humeral head", "one-piece glenoid"}),
        ("anatomic made reverse by its components", {"stemless body", "humeral head", "glenoid tray", "glenoid liner"}),
        ("resurfacing made reverse", {"resurfacing head"}),
        ("shoulder in two stages", {"humeral stem", "humeral liner", "baseplate", "glenosphere"}),
    ],
)
def test_components_of_the_primary_come_out_when_others_take_their_place(cut, name, out):
    query = (
        "select c.role::varchar as role, c.out_day from component_life as c join follow_up as f"
        " on f.joint_no = c.joint_no where f.patient_id = $patient and c.in_day = 0 and c.out_day is not null"
    )
    found = asked(cut, query, name)
    assert {row["role"] for row in found} == out
    assert {row["out_day"] for row in found} == {OUT_DAY}


def test_a_hemi_head_comes_out_when_a_head_goes_in_later(cut):
    """The cup was added beside it; the head that follows takes its place."""
    first, second = episodes(cut, "hemi made total by its components, removal forgotten")
    assert (first["to_total"], second["bone_fixed_removed"]) == (True, False)
    query = (
        "select c.out_day from component_life as c join follow_up as f on f.joint_no = c.joint_no"
        " where f.patient_id = $patient and c.role = 'hemi head'"
    )
    assert asked(cut, query, "hemi made total by its components, removal forgotten") == [{"out_day": second["day"]}]


@pytest.mark.parametrize("name", ["hip in two stages", "shoulder in two stages"])
def test_two_stages_are_one_episode(cut, name):
    (episode,) = episodes(cut, name)
    assert (episode["day"], episode["reimplanted_day"], episode["restart_day"]) == (366, 426, 426)
    assert (episode["stage"], episode["stage_open"]) == ("first of two", False)


def test_a_first_stage_of_a_hip_is_open_for_twelve_months(cut):
    (episode,) = episodes(cut, "hip, first stage open")
    assert (episode["reimplanted_day"], episode["stage_open"]) == (None, True)
