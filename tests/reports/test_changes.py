"""
What moved between two cuts: one joint for each kind of change, worked out by hand, and a random register in which the
parts add up to what each cut says by itself.

Which change counts as new, late, corrected, linked or defined anew is common practice of registry offices (no published
source).
"""

from contextlib import closing
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from regdash import grouping
from regdash.cohort import parse
from regdash.errors import FilterError, StoreError
from regdash.intake.receive import receive
from regdash.reports.desk import Desk
from regdash.reports.policy import Policy
from regdash.signals.desk import SignalsDesk
from regdash.signals.pool import windows_of
from regdash.signals.settings import read_settings
from regdash.signals.unit_moves import unit_moves
from regdash.store.freeze import freeze
from regdash.store.link_decisions import ACCEPTED, UNDONE, decide
from regdash.store.two_cuts import TwoCuts
from tests.cli.asking import regdash
from tests.intake.small_register import SmallRegister, component, primary, reason, revision, total_knee
from tests.reports.desks import EVERYTHING, SHOW_ALL, asked
from tests.reports.quality_register import draw_register

START, ONE, TWO = date(2004, 1, 1), date(2005, 12, 31), date(2006, 12, 31)
KINDS = ("definition_changes", "corrections", "links_undone", "new_links", "late_events", "new_events")


def born(number: int) -> str:
    """A year of birth of its own, so that a group by age is one joint."""
    return str(1900 + 3 * number)


def first(number: int, day: str = "2004-01-01", hospital: str = "H001", **changes: str) -> dict[str, str]:
    return primary(f"{hospital}-{number:07d}", number, day, **({"birth_year": born(number)} | changes))


def again(number: int, day: str, patient_no: int | None = None, **changes: str) -> dict[str, str]:
    own = {"birth_year": born(number), "action": "bearing-exchange-only"}
    return revision(f"H001-{100 + number:07d}", patient_no or number, day, **(own | changes))


def send(
    register: SmallRegister, received: str, rows: list[dict[str, str]], hospital: str = "H001", **more: str
) -> Path:
    parts = [line for row in rows if row["kind"] == "primary" for line in total_knee(row["operation_id"])]
    revised = [row["operation_id"] for row in rows if row["kind"] == "revision"]
    for number in revised:
        parts += [
            component(number, n, "bearing-insert", "KI001-3A", how) for n, how in enumerate(("removed", "implanted"), 1)
        ]
    return register.operations(received, rows, parts, [reason(number) for number in revised], hospital=hospital, **more)


@pytest.fixture(scope="module")
def moved(tmp_path_factory) -> Desk:
    folder = tmp_path_factory.mktemp("changes")
    register, store = SmallRegister(folder / "in"), folder / "store"
    before = [
        register.catalogue(),
        register.units(),
        send(
            register,
            "2006-01-15",
            [
                *(first(n) for n in (1, 2, 3, 4, 5, 6, 7, 8, 11, 13, 14)),
                again(4, "2005-01-01"),
                again(5, "2005-01-01", patient_no=55),
                again(6, "2005-01-01"),
                again(7, "2005-01-01", surgeon_id="S0099"),
                again(8, "2005-01-01"),
                again(13, "2005-13-01"),
            ],
        ),
        send(register, "2006-01-10", [first(12, hospital="H002")], "H002", complete="2005-06-30"),
        register.deaths("2006-01-15", {}),
    ]
    receive(store, before)
    freeze(store, ONE)
    late = [
        send(
            register,
            "2007-01-15",
            [
                again(2, "2006-05-01"),
                again(3, "2005-03-01"),
                again(4, "2005-02-01"),
                first(9, "2005-06-01"),
                first(10, "2006-06-01"),
                first(11, sex="male"),
                again(13, "2005-01-01"),
            ],
        ),
        send(register, "2007-01-10", [], "H002", complete="2006-12-31"),
        register.submit("units", "2007-01-15", {"surgeons": [{"surgeon_id": "S0099", "active_from": "2000-01-01"}]}),
        register.deaths("2007-01-15", {8: "2004-06-01", 14: "2005-06-01"}),
    ]
    receive(store, late)
    decide(store, "H001-0000105", "H001-0000005", ACCEPTED, "wrong number at the desk")
    decide(store, "H001-0000106", "H001-0000006", UNDONE, "another knee")
    freeze(store, TWO, because="the test takes links away")
    return Desk(store, policy=SHOW_ALL)


@pytest.fixture(scope="module")
def by_joint(moved) -> dict[str, dict[str, dict[str, float]]]:
    """Parts other than 0 by age (one joint each) and figure; time in days."""
    report = moved.changes("2005-12-31.1", EVERYTHING, grouping.parse("age:1"), (1.0,))
    found: dict[str, dict[str, dict[str, float]]] = {}
    for row in report.rows:
        if row.figure != "risk":
            scale = 365.25 if row.figure == "implant_years" else 1
            parts = {kind: round(scale * part, 6) for kind, part in zip(KINDS, row.parts) if part}
            found.setdefault(row.group, {})[row.figure] = parts
    return found


def days(until: str, since: date = START) -> int:
    return (date.fromisoformat(until) - since).days


YEAR = {"new_events": 365}
# Joint: what moves its joints, its revisions and its days, by cause.
EXPECTED: dict[int, tuple[dict[str, float], dict[str, float], dict[str, float]]] = {
    1: ({}, {}, YEAR),
    2: ({}, {"new_events": 1}, {"new_events": days("2006-05-01", ONE)}),
    3: ({}, {"late_events": 1}, {"late_events": days("2005-03-01", ONE)}),
    4: ({}, {}, {"corrections": 31}),
    5: ({}, {"new_links": 1}, {"new_links": days("2005-01-01", ONE)}),
    6: ({}, {"links_undone": -1}, {"links_undone": -days("2005-01-01", ONE), **YEAR}),
    7: ({}, {"definition_changes": 1}, {"definition_changes": days("2005-01-01", ONE)}),
    8: ({}, {"definition_changes": -1}, {"definition_changes": -days("2005-01-01", ONE), **YEAR}),  # both records held
    9: ({"late_events": 1}, {}, {"late_events": days("2005-12-31", date(2005, 6, 1)), **YEAR}),
    10: ({"new_events": 1}, {}, {"new_events": days("2006-12-31", date(2006, 6, 1))}),
    11: ({}, {}, YEAR),
    12: ({}, {}, {"late_events": days("2005-12-31", date(2005, 6, 30)), **YEAR}),
    13: ({}, {"corrections": 1}, {"corrections": days("2005-01-01", ONE)}),
    14: ({}, {}, {"late_events": days("2005-06-01", ONE)}),
}


@pytest.mark.parametrize("number", EXPECTED)
def test_each_kind_of_change_is_told_by_its_cause(by_joint, number):
    operated = {9: 2005, 10: 2006}.get(number, 2004)
    found = by_joint[str(operated - int(born(number)))]
    assert (found["joints"], found["revisions"], found["implant_years"]) == EXPECTED[number]


def test_a_joint_that_moves_to_another_group_leaves_the_one_and_enters_the_other(moved):
    rows = [r for r in moved.changes("2005-12-31.1", EVERYTHING, grouping.parse("sex")).rows if r.figure == "joints"]
    assert {row.group: row.corrections for row in rows} == {"female": -1, "male": 1}
    (male,) = moved.changes("2005-12-31.1", asked(moved, "sex=male"), (), ()).rows[:1]
    assert (male.before, male.corrections, male.after) == (0, 1, 1)


def test_a_cut_against_itself_has_not_moved(moved):
    for row in moved.changes("2006-12-31.1", EVERYTHING, grouping.parse("age")).rows:
        assert row.before == row.after
        assert not any(row.parts)


def test_what_is_asked_must_be_there_and_known_at_implantation(moved):
    with pytest.raises(StoreError, match="There is no data cut 1999-12-31"):
        moved.changes("1999-12-31", EVERYTHING)
    before = Desk(moved._store, "2005-12-31")
    with pytest.raises(StoreError, match="Name the earlier cut first"):
        before.changes("2006-12-31", EVERYTHING)
    before.close()
    with pytest.raises(FilterError, match="known only after implantation"):
        moved.changes("2005-12-31.1", parse("ended=died", outcomes=True))


@pytest.fixture(scope="module", params=(3, pytest.param(11, marks=pytest.mark.slow)))
def random_cuts(request, tmp_path_factory) -> tuple[Desk, Desk]:
    folder = tmp_path_factory.mktemp("random")
    draw_register(folder / "in", seed=request.param, joints=90)
    receive(folder / "store", [folder / "in"])
    one = freeze(folder / "store", date(2006, 12, 31), known_as_of=date(2009, 6, 30))
    early = freeze(folder / "store", date(2006, 12, 31), known_as_of=date(2007, 1, 10), because="a test")
    later = freeze(folder / "store", date(2007, 12, 31), because="a test")
    assert early.joints < one.joints < later.joints
    return tuple(Desk(folder / "store", cut.cut, policy=Policy(minimum_at_risk=1)) for cut in (early, one, later))


@pytest.mark.parametrize("pair", [(0, 1), (0, 2), (1, 2)])
@pytest.mark.parametrize("by", ["joint", "joint,asa", "joint,hospital", "joint,implanted"])
def test_parts_add_up_to_what_each_cut_says_by_itself(random_cuts, pair, by):
    one, other = (random_cuts[n] for n in pair)
    groups = grouping.parse(by)
    report = other.changes(one.manifest.cut, EVERYTHING, groups, (0.25, 0.5))
    told = {(row.group, row.figure, row.years): row for row in report.rows}
    for desk, side in ((one, "before"), (other, "after")):
        for row in desk.rates(EVERYTHING, groups).rows:
            assert getattr(told[row.group, "joints", None], side) == row.joints
            assert getattr(told[row.group, "revisions", None], side) == row.revisions
            assert getattr(told[row.group, "implant_years", None], side) == pytest.approx(row.implant_years, abs=1e-9)
        for at in desk.risk(EVERYTHING, groups, (0.25, 0.5)).rows:
            if (shown := told[at.group, "risk", at.years]).withheld is None:
                assert getattr(shown, side) == pytest.approx(at.estimate, abs=1e-12)
    assert any(row.figure == "risk" and row.withheld is None for row in report.rows) or by != "joint"
    for row in report.rows:
        if row.figure in ("joints", "revisions"):
            assert row.after - row.before == sum(row.parts)
            assert all(isinstance(part, int) for part in row.parts)
        elif row.withheld is None:
            assert row.after - row.before == pytest.approx(sum(row.parts), abs=1e-12 if row.figure == "risk" else 1e-9)


def test_between_cuts_of_one_through_date_nothing_is_new(random_cuts):
    early, one, _ = random_cuts
    rows = one.changes(early.manifest.cut, EVERYTHING, grouping.parse("joint")).rows
    counts = [row for row in rows if row.figure != "risk"]
    assert all(row.new_events == 0 for row in counts)
    assert any(row.late_events for row in counts)


def test_corrections_move_joints_between_groups_and_none_in_all(random_cuts):
    early, _, later = random_cuts
    rows = later.changes(early.manifest.cut, EVERYTHING, grouping.parse("joint,asa")).rows
    corrected = [row.corrections for row in rows if row.figure == "joints"]
    assert sum(corrected) == 0
    assert any(corrected)


def test_small_parts_are_withheld_together(random_cuts):
    early, _, later = random_cuts
    desk = Desk(later._store, later.manifest.cut, withhold_counts_under=5)
    for row in desk.changes(early.manifest.cut, EVERYTHING, grouping.parse("joint,hospital")).rows:
        if row.figure in ("joints", "revisions"):
            assert all(part is None for part in row.parts) or all(part == 0 or abs(part) >= 5 for part in row.parts)


@pytest.mark.parametrize("kind", ["implants", "constructs", "sizes"])
def test_parts_of_each_unit_add_up_to_what_a_screen_of_each_cut_counts(random_cuts, kind):
    """Joints and revisions of implants, constructs and sizes; what is corrected may move a joint between them."""
    early, _, later = random_cuts
    settings = replace(read_settings(), minimum_joints=1, windows=(1.0,))
    screens = [
        SignalsDesk(d._store, d.manifest.cut, settings=settings).signals(kind, EVERYTHING) for d in (early, later)
    ]
    before, after = ({(row.unit, row.screened.window): row.screened for row in found.rows} for found in screens)
    windows = {window.label: window for window in windows_of((1.0,))}
    with closing(TwoCuts(early._store, early.manifest, later.manifest)) as two:
        found = unit_moves(two, EVERYTHING, sorted({unit for unit, _ in (*before, *after)}, key=str))
    for (unit, window), row in after.items():
        moves = found[unit]
        was = before.get((unit, window))
        assert row.revisions == moves.revised_before(windows[window]) + sum(moves.revisions(windows[window]).values())
        assert was is None or was.revisions == moves.revised_before(windows[window])
        if window == "all":
            assert (row.joints, was.joints if was else 0) == (sum(moves.joints), moves.joints[0])
    causes = {cause for moves in found.values() for cause in moves.revisions(windows["all"])}
    assert causes >= {"late_events", "new_events"}


def test_the_command_prints_a_page_json_and_csv(moved):
    store = moved._store
    page = regdash("changes", "2005-12-31", "2006-12-31", store=store)
    assert (page.code, page.stderr) == (0, "")
    assert max(map(len, page.stdout.splitlines())) <= 79
    told = regdash("changes", "2005-12-31", "2006-12-31", "--by", "sex", "--json", store=store).json
    assert (told["earlier"], told["cut"], told["by"]) == ("2005-12-31.1", "2006-12-31.1", "sex")
    listed = regdash("changes", "2005-12-31", "2006-12-31", "--by", "sex", "--csv", store=store).csv
    assert [row["figure"] for row in listed] == [row["figure"] for row in told["rows"]]


@pytest.mark.slow  # two cuts of a random register
def test_what_another_catalogue_says_of_a_joint_is_a_change_of_definition(tmp_path):
    register, store = SmallRegister(tmp_path / "in"), tmp_path / "store"
    receive(store, [register.catalogue(), register.units(), send(register, "2006-01-15", [first(1), first(2)])])
    freeze(store, ONE)
    columns = ("catalogue_no", "maker", "implant", "role", "joint", "class", "bearing", "size", "introduced_date")
    numbers = (("KT001-3A", "KT-001", "tibial"), ("KI001-3A", "KI-001", "bearing-insert"))
    rows = [
        dict(zip(columns, (number, "M01", implant, role, "knee", "total", "mobile", "3", "1995-01-01")))
        for number, implant, role in numbers
    ]
    receive(store, [register.submit("catalogue", "2006-02-01", {"catalogue": rows})])
    freeze(store, ONE)
    report = Desk(store).changes("2005-12-31.1", EVERYTHING, grouping.parse("bearing"), ())
    moved = {row.group: row.parts for row in report.rows if row.figure == "joints"}
    assert moved == {"fixed": (-2, 0, 0, 0, 0, 0), "mobile": (2, 0, 0, 0, 0, 0)}
    assert "differ between the two cuts" in " ".join(report.head.cautions)
