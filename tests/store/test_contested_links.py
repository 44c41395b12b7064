"""
Two primaries of one joint, one of them held: which revisions are linked all the same, since components tell whose.

That what was taken out must have been put in is common practice of registry offices (no published source); the
registers here are made by hand.
"""

import shutil
from pathlib import Path

import pytest

from regdash.errors import LinkError
from regdash.intake.receive import receive
from regdash.store.cuts import find_cut
from regdash.store.freeze import freeze
from regdash.store.links import accept, candidates, undo
from tests.intake.small_register import Row, SmallRegister, component, primary, reason, revision, total_knee
from tests.store.linking import asked, link_of, on
from tests.store.test_links import THROUGH

CONTESTED, PROVED, BEFORE = "H002-0000011", "H002-0000012", "H002-0000013"
COUNTED, HELD = "H001-0000001", "H001-0000002"


@pytest.fixture(scope="module")
def one_joint(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One joint of two primaries, the later one held, and revisions of it: before that, since, and with a lot."""
    folder = tmp_path_factory.mktemp("contested")
    register = SmallRegister(folder / "in")
    register.catalogue()
    register.units()
    rows = [primary(COUNTED, 111_111_111, "2005-01-05"), primary(HELD, 111_111_111, "2006-01-05")]
    parts = [line for row in rows for line in total_knee(row["operation_id"])]
    lots = {COUNTED: "L0001", HELD: "L0002"}
    parts = [p | {"lot": lots[p["operation_id"]]} for p in parts]
    register.operations("2011-01-15", rows, parts, complete="2010-12-31")
    rows = [revision(BEFORE, 111_111_111, "2005-06-05"), revision(CONTESTED, 111_111_111, "2007-01-05")]
    rows.append(revision(PROVED, 111_111_111, "2008-01-05"))
    parts = [component(PROVED, 1, "femoral", "KF001-3A", "removed") | {"lot": "L0001"}]
    register.operations("2011-01-15", rows, parts, hospital="H002", complete="2010-12-31")
    register.deaths("2011-01-31", {}, complete="2010-12-31")
    assert not receive(folder / "store", [folder / "in"]).refused
    freeze(folder / "store", THROUGH)
    return folder / "store"


@pytest.fixture
def contested(one_joint: Path, tmp_path: Path) -> Path:
    """A copy that a test may write to."""
    return Path(shutil.copytree(one_joint, tmp_path / "store"))


def test_a_held_primary_of_the_joint_contests_later_revisions_unless_a_lot_decides(contested):
    linked = "select operation_id, primary_operation_id, cause from links order by 1"
    assert asked(contested, linked) == [
        (CONTESTED, None, "primary contested"),
        (PROVED, COUNTED, None),
        (BEFORE, COUNTED, None),
    ]
    said = [(c.revision_id, c.primary_id, c.method, c.is_held) for c in candidates(contested)[1]]
    method = "same patient, joint and side"
    assert said == [(CONTESTED, COUNTED, method, False), (CONTESTED, HELD, method, True)]
    assert find_cut(contested).revisions == 1


@pytest.mark.slow  # two cuts
def test_of_two_primaries_of_a_joint_the_counted_one_can_be_accepted(contested, monkeypatch):
    on(monkeypatch, "2012-05-01")
    with pytest.raises(LinkError, match="no primary H001-0000002 that counts"):
        accept(contested, CONTESTED, HELD, "a guess")
    accept(contested, CONTESTED, COUNTED, "the hospital's own notes")
    freeze(contested, THROUGH)
    assert link_of(contested, CONTESTED)[:5] == (COUNTED, "same patient, joint and side", "possible", None, "analyst 1")
    assert candidates(contested)[1] == []
    undo(contested, CONTESTED, "the notes were of another knee")
    freeze(contested, THROUGH, because="a decision was undone")
    assert link_of(contested, CONTESTED)[3] == "link undone"


# What went in at the held primary beside what is the same in all, what a revision takes out, and whether it is linked.
SIDES = {"KF001-3A": {"side": "left"}, "KF002-3A": {"side": "right"}}
SENT_AS_PRIMARY, NO_REASONS, OTHER_SIDE = "sent as primary", "no reasons", "other side"
OF_COUNTED, OF_HELD, OF_BOTH, OF_EACH, AFTER_ANOTHER = "of counted", "of held", "of both", "of each", "after another"
CASES = {
    SENT_AS_PRIMARY: ((), True),
    NO_REASONS: ((), False),
    OTHER_SIDE: ((), True),
    OF_COUNTED: (("KT001-3A", "KI001-3A"), True),
    OF_HELD: (("KT001-4A", "KI001-3A"), False),
    OF_BOTH: (("KI001-3A",), False),
    OF_EACH: (("KT001-3A", "KF001-4A"), False),  # no primary has the femoral
    AFTER_ANOTHER: (("KT001-3A", "KI001-3A"), False),  # a held revision before may have put that tibial in
}


def operation(number: int) -> str:
    return f"H001-{number:07d}"


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A joint for each case; operations 10 n + 1 and 2 are primaries, 3 and 4 revisions, and 5 a held one before."""
    folder = tmp_path_factory.mktemp("told")
    register = SmallRegister(folder / "in")
    register.catalogue(changes=SIDES)
    like = {"joint": "knee", "class": "total", "maker": "M01", "introduced_date": "1995-01-01", "size": "4"}
    entries = (("KT001-4A", "KT-001", "tibial"), ("KF001-4A", "KF-001", "femoral"))
    rows = [like | {"catalogue_no": number, "implant": implant, "role": role} for number, implant, role in entries]
    register.submit("catalogue", "2000-02-01", {"catalogue": rows})
    register.units()
    for n, (case, (taken, _)) in enumerate(CASES.items()):
        _joint(register, case, n, taken)
    register.deaths("2011-01-31", {}, complete="2010-12-31")
    assert not receive(folder / "store", [folder / "in"]).refused
    freeze(folder / "store", THROUGH)
    return folder / "store"


def _joint(register: SmallRegister, case: str, n: int, taken: tuple[str, ...]) -> None:
    counted, held, first, second, before = (operation(10 * n + k) for k in range(1, 6))
    rows = [primary(counted, n + 1, "2005-01-05"), primary(held, n + 1, "2006-01-05")]
    parts = [line | {"lot": ""} for line in (*total_knee(counted), *_held(case, held))]
    rows += [revision(first, n + 1, "2007-01-05"), revision(second, n + 1, "2008-01-05")]
    roles = {"KT": "tibial", "KI": "bearing-insert", "KF": "femoral"}
    parts += [component(first, k, roles[number[:2]], number, "removed") for k, number in enumerate(taken, 1)]
    parts += [component(first, 9, "bearing-insert", "KI001-3A", "implanted")]
    parts += [component(second, 1, "bearing-insert", "KI001-3A", "removed")]
    parts += [component(second, 2, "bearing-insert", "KI001-3A", "implanted")]
    reasons = [reason(first), reason(second)] + ([reason(held)] if case == SENT_AS_PRIMARY else [])
    if case == AFTER_ANOTHER:
        rows.append(revision(before, n + 1, "2006-06-05"))
    register.operations("2011-01-15", rows, [p | {"lot": ""} for p in parts], reasons, complete="2010-12-31", bare=True)


def _held(case: str, held: str) -> list[Row]:
    if case in (SENT_AS_PRIMARY, NO_REASONS):
        pair = (("KI001-3A", "removed"), ("KI001-3A", "implanted"))
        return [component(held, n, "bearing-insert", *line) for n, line in enumerate(pair, 1)]
    femoral = "KF002-3A" if case == OTHER_SIDE else "KF001-3A"
    tibial = "KT001-3A" if case == OTHER_SIDE else "KT001-4A"
    numbers = (("femoral", femoral), ("tibial", tibial), ("bearing-insert", "KI001-3A"))
    return [component(held, n, role, number) for n, (role, number) in enumerate(numbers, 1)]


def test_components_tell_the_true_primary_where_they_leave_no_doubt_and_only_there(told):
    held = {row for (row,) in asked(told, "select distinct record_id from held_rows where table_name = 'operations'")}
    links = {row[0]: row[1:] for row in asked(told, "select operation_id, primary_operation_id, cause from links")}
    for n, (case, (_, is_linked)) in enumerate(CASES.items()):
        assert operation(10 * n + 2) in held, case
        expected = (operation(10 * n + 1), None) if is_linked else (None, "primary contested")
        assert links[operation(10 * n + 3)] == expected, case


def test_a_later_revision_follows_one_that_components_told(told):
    links = dict(asked(told, "select operation_id, primary_operation_id from links"))
    for n, (case, (_, is_linked)) in enumerate(CASES.items()):
        assert links[operation(10 * n + 4)] == (operation(10 * n + 1) if is_linked else None), case
