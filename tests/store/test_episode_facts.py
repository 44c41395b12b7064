"""
What a revision did to the joint is told by the components its operations list, else by its action.

Which components are fixed to bone, and that a second stage belongs to the first for twelve months, is common
practice of registry offices (no published source); dates and days here are worked out by hand.
"""

from datetime import date
from typing import Any

import duckdb
import pytest

from regdash.intake.receive import receive
from regdash.store.cuts import cut_path
from regdash.store.freeze import freeze
from tests.intake.small_register import SmallRegister, component, partial, partial_knee, primary, revision, total_knee

IMPLANTED, THROUGH = "2008-01-01", date(2010, 12, 31)
OUT, IN = "removed", "implanted"
INSERT = (("bearing-insert", "KI001-3A", OUT), ("bearing-insert", "KI001-3A", IN))
TIBIA = (("tibial", "KT001-3A", OUT), ("tibial", "KT001-3A", IN))
TOTAL_IN = (("femoral", "KF001-3A", IN), ("tibial", "KT001-3A", IN))
PATELLA_IN = (("patellar", "KP001-3A", IN),)

# One joint each: class of the primary, then its operations: day, stage, action, the components that are listed.
Operation = tuple[str, str, str, tuple[tuple[str, str, str], ...]]
STORIES: dict[str, tuple[str, list[Operation]]] = {
    "inserts exchanged": ("total", [("2009-01-01", "single", "bearing-exchange-only", INSERT)]),
    "inserts exchanged, nothing listed": ("total", [("2009-01-01", "single", "bearing-exchange-only", ())]),
    "only inserts listed": ("total", [("2009-01-01", "single", "one-component-exchanged", INSERT)]),
    "said to be inserts, tibia listed": (
        "total",
        [("2009-01-01", "single", "bearing-exchange-only", (*INSERT, *TIBIA))],
    ),
    "tibia exchanged": ("total", [("2009-01-01", "single", "one-component-exchanged", (*INSERT, *TIBIA))]),
    "tibia exchanged, removal forgotten": ("total", [("2009-01-01", "single", "one-component-exchanged", TIBIA[1:])]),
    "one exchanged, nothing listed": ("total", [("2009-01-01", "single", "one-component-exchanged", ())]),
    "nothing known": ("total", [("2009-01-01", "single", "", ())]),
    "patella added": ("total", [("2009-01-01", "single", "component-added", PATELLA_IN)]),
    "patella added, insert exchanged": ("total", [("2009-01-01", "single", "component-added", (*PATELLA_IN, *INSERT))]),
    "added, nothing listed": ("total", [("2009-01-01", "single", "component-added", ())]),
    "patella exchanged, removal forgotten": (
        "total",
        [
            ("2009-01-01", "single", "component-added", PATELLA_IN),
            ("2009-06-01", "single", "", PATELLA_IN),
        ],
    ),
    "converted": ("partial", [("2009-01-01", "single", "partial-to-total", TOTAL_IN)]),
    "converted by its components": ("partial", [("2009-01-01", "single", "all-components-exchanged", TOTAL_IN)]),
    "converted in two stages": (
        "partial",
        [
            ("2009-01-01", "first-of-two", "removal-with-spacer", ()),
            ("2009-03-02", "second-of-two", "reimplantation", TOTAL_IN),
        ],
    ),
    "second partial added": (
        "partial",
        [("2009-01-01", "single", "component-added", (("femoral", "UF001-3A", IN), ("tibial", "UT001-3A", IN)))],
    ),
    "a total is no conversion": ("total", [("2009-01-01", "single", "all-components-exchanged", TOTAL_IN)]),
    "first stage open": ("total", [("2010-06-01", "first-of-two", "removal-with-spacer", ())]),
    "first stage never closed": ("total", [("2009-01-01", "first-of-two", "removal-with-spacer", ())]),
    "died between the stages": ("total", [("2010-06-01", "first-of-two", "removal-with-spacer", ())]),
    "leap day": ("total", [("2008-02-29", "first-of-two", "removal-with-spacer", ())]),
}
DIED = {"died between the stages": "2010-08-01"}


def operations_of(number: int, story: list[Operation]) -> tuple[list[dict[str, str]], list[dict[str, str]]]:
    """The revisions of one joint, and the components they list."""
    rows, parts = [], []
    for n, (day, stage, action, listed) in enumerate(story, 1):
        operation = f"H001-{number:04d}{n:03d}"
        rows.append(revision(operation, number, day, stage=stage, action=action))
        parts += [component(operation, line, *part) for line, part in enumerate(listed, 1)]
    return rows, parts


@pytest.fixture(scope="module")
def cut(tmp_path_factory) -> duckdb.DuckDBPyConnection:
    folder = tmp_path_factory.mktemp("facts")
    register = SmallRegister(folder / "in")
    register.catalogue()
    register.units()
    patella = {"catalogue_no": "KP001-3A", "maker": "M01", "implant": "KP-001", "role": "patellar", "joint": "knee"}
    register.submit("catalogue", "2000-02-01", {"catalogue": [patella | {"class": "total", "size": "3"}]})
    rows, parts = [], []
    for number, (kind, story) in enumerate(STORIES.values(), 1):
        operation, make = f"H001-{number:04d}000", partial if kind == "partial" else primary
        rows.append(make(operation, number, IMPLANTED))
        parts += (partial_knee if kind == "partial" else total_knee)(operation)
        revisions, listed = operations_of(number, story)
        rows, parts = rows + revisions, parts + listed
    register.operations("2011-01-31", rows, parts, complete="2010-12-31")
    deaths = {number: DIED[name] for number, name in enumerate(STORIES, 1) if name in DIED}
    register.deaths("2011-01-31", deaths)
    receive(folder / "store", [folder / "in"])
    return duckdb.connect(str(cut_path(folder / "store", freeze(folder / "store", THROUGH).cut)), read_only=True)


def episodes(cut: duckdb.DuckDBPyConnection, name: str) -> list[dict[str, Any]]:
    number = list(STORIES).index(name) + 1
    found = cut.execute(
        "select e.* from revision_episodes as e join follow_up as f on f.joint_no = e.joint_no"
        " where f.patient_id = $patient order by e.sequence",
        {"patient": f"P{number:09d}"},
    )
    names = [column[0] for column in found.description]
    return [dict(zip(names, row)) for row in found.fetchall()]


FACTS = ("bone_fixed_removed", "bearing_only", "patella_added_only", "to_total", "to_reverse", "emptied")


@pytest.mark.parametrize(
    ("name", "true"),
    [
        ("inserts exchanged", {"bearing_only"}),
        ("inserts exchanged, nothing listed", {"bearing_only"}),
        ("only inserts listed", {"bearing_only"}),
        ("said to be inserts, tibia listed", {"bone_fixed_removed"}),
        ("tibia exchanged", {"bone_fixed_removed"}),
        ("tibia exchanged, removal forgotten", {"bone_fixed_removed"}),
        ("one exchanged, nothing listed", {"bone_fixed_removed"}),
        ("nothing known", set()),
        ("patella added", {"patella_added_only"}),
        ("patella added, insert exchanged", set()),
        ("added, nothing listed", set()),
        ("converted", {"bone_fixed_removed", "to_total"}),
        ("converted by its components", {"bone_fixed_removed", "to_total"}),
        ("converted in two stages", {"bone_fixed_removed", "to_total", "emptied"}),
        ("second partial added", set()),
        ("a total is no conversion", {"bone_fixed_removed"}),
        ("first stage open", {"bone_fixed_removed", "emptied"}),
    ],
)
def test_what_a_revision_did_is_told_by_its_components_or_else_by_its_action(cut, name, true):
    (episode,) = episodes(cut, name)
    assert {fact for fact in FACTS if episode[fact]} == true


def test_a_patella_that_takes_the_place_of_another_is_no_later_resurfacing(cut):
    first, second = episodes(cut, "patella exchanged, removal forgotten")
    assert (first["patella_added_only"], first["bone_fixed_removed"]) == (True, False)
    assert (second["patella_added_only"], second["bone_fixed_removed"]) == (False, True)


@pytest.mark.parametrize(
    ("name", "reimplanted", "restart", "is_open"),
    [
        ("tibia exchanged", None, 366, False),  # 2008 was a leap year
        ("converted in two stages", 426, 426, False),
        ("first stage open", None, 1247, True),  # until 2011-06-01, five months after the end of the cut
        ("first stage never closed", None, 731, False),  # 2010-01-01
        ("died between the stages", None, 1247, False),  # nothing more can come
        ("leap day", None, 424, False),  # 2009-02-28
    ],
)
def test_a_clock_since_revision_starts_once_it_is_settled_what_was_done(cut, name, reimplanted, restart, is_open):
    (episode,) = episodes(cut, name)
    assert (episode["reimplanted_day"], episode["restart_day"]) == (reimplanted, restart)
    assert episode["stage_open"] is is_open


def test_every_episode_says_whether_it_was_for_infection(cut):
    assert cut.execute(
        "select count(*) from revision_episodes where septic <> (reason_group = 'infection')"
    ).fetchall() == [(0,)]


def lives(cut: duckdb.DuckDBPyConnection, name: str) -> list[tuple[str, int, int | None]]:
    number = list(STORIES).index(name) + 1
    return cut.execute(
        "select c.role, c.in_day, c.out_day from component_life as c join follow_up as f on f.joint_no = c.joint_no"
        " where f.patient_id = $patient order by c.in_day, c.role",
        {"patient": f"P{number:09d}"},
    ).fetchall()


def test_a_device_added_beside_the_first_takes_nothing_out(cut):
    assert [life[2] for life in lives(cut, "second partial added")] == [None] * 5


@pytest.mark.parametrize(
    ("name", "gone"),
    [
        ("first stage never closed", {"femoral", "tibial", "bearing insert"}),
        ("inserts exchanged, nothing listed", {"bearing insert"}),
        ("one exchanged, nothing listed", set()),  # which one is not known
    ],
)
def test_what_was_done_says_what_came_out_where_nothing_is_listed(cut, name, gone):
    found = {role: out for role, _, out in lives(cut, name)}
    assert {role for role, out in found.items() if out == 366} == gone
    assert {role for role, out in found.items() if out is None} == set(found) - gone


def test_the_roles_put_in_at_the_primary_are_added_up(cut):
    """Femoral 1, tibial 2, bearing insert 4; what a revision put in counts nothing."""
    assert cut.execute("select distinct primary_roles from follow_up").fetchall() == [(7,)]


def test_follow_up_goes_on_past_a_revision(cut):
    query = "select distinct followed_days, followed_end, ended from follow_up order by 1"
    assert cut.execute(query).fetchall() == [(943, "died", "revised"), (1095, "in place", "revised")]
