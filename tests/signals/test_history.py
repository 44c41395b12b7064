"""A screen replayed quarter by quarter, against data cuts really made as of those quarters."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from regdash import cohort as filters
from regdash import grouping
from regdash.cohort import Cohort
from regdash.errors import Cancelled, FilterError
from regdash.intake.receive import receive
from regdash.output.history_pages import STATE_WORDS
from regdash.reports.policy import Policy
from regdash.signals.desk import SignalsDesk
from regdash.signals.history import Replayable, replay_of
from regdash.signals.history_model import NEVER_SEEN, SIGNAL, HistoryReport, HistoryRow
from regdash.signals.joints import joints_of
from regdash.signals.known_then import NEVER, NOT_THERE, KnownLater, KnownThen
from regdash.signals.model import FIRST_SEEN, NOT_SEEN, SEEN_AGAIN
from regdash.signals.settings import read_settings
from regdash.store.cuts import Cut
from regdash.store.freeze import freeze
from regdash.store.histories import FOLDER
from regdash.store.links import undo
from regdash.store.signal_reviews import Reviews
from regdash.summary.edition import edition_of
from regdash.summary.evidence import build_evidence, find_unit
from regdash.summary.pinned import pinned_by_cut
from synthetic_registry import make
from tests.signals.small_history import small_history

THROUGH, THEN = date(2024, 12, 31), date(2014, 9, 30)
LOOSE = replace(read_settings(), minimum_joints=3, minimum_expected=0.2, q=0.9, stated_ratio=0.4)


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A register with delay and dirt, and what was known of it in the middle."""
    folder = tmp_path_factory.mktemp("register")
    made = make(folder / "sent", 3_000, seed=9, only=("knee",))
    receive(folder / "store", [made.out])
    freeze(folder / "store", THEN, known_as_of=THEN)
    freeze(folder / "store", THROUGH)
    return folder / "store"


@pytest.fixture(scope="module")
def desk(store: Path) -> Iterator[SignalsDesk]:
    opened = SignalsDesk(store, str(THROUGH), settings=LOOSE)
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def report(desk: SignalsDesk) -> HistoryReport:
    return desk.history("implants", Cohort())


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return small_history(tmp_path_factory.mktemp("small"))


Life = tuple[int, int]  # days of follow-up, and 1 where it ended in a revision


def lives(store: Path) -> tuple[dict[str, Life], dict[str, Life]]:
    """What a cut of that day holds of each joint, and what the replay tells of it."""
    now, then = Cut(store, str(THROUGH)), Cut(store, str(THEN))
    (told,) = KnownThen(now, joints_of(now, Cohort(), ()), "implants").on([THEN])
    ids = [joint_id for (joint_id,) in now.rows("select joint_id from follow_up order by joint_no")]
    replayed = {one: (int(code) >> 1, int(code) & 1) for one, code in zip(ids, told, strict=True) if code != NOT_THERE}
    rows = then.rows("select joint_id, days, (ended = 'revised')::integer from follow_up")
    return {joint_id: (days, revised) for joint_id, days, revised in rows}, replayed


def test_what_was_known_of_each_joint_is_what_a_cut_of_that_day_holds(store: Path) -> None:
    held, replayed = lives(store)
    assert len(held) > 800
    assert sum(revised for _, revised in held.values()) > 15
    assert set(held) == set(replayed)
    # A death that a later record contradicts, or a record that a rule holds since, is of today's knowledge.
    differ = [one for one in held if held[one] != replayed[one]]
    assert len(differ) <= 0.002 * len(held)


def test_a_replayed_quarter_is_the_screen_of_a_cut_really_made_then(store: Path, report: HistoryReport) -> None:
    """Every unit's counts and p in every pool whose joints no later record touched; signals everywhere."""
    then = SignalsDesk(store, str(THEN), settings=LOOSE).screen("implants", Cohort(), reviews_as_of=THEN)
    cut = Cut(store, str(THROUGH))
    asked = Replayable(Policy(), LOOSE, "implants", Cohort(), grouping.parse("age,sex"), (1.0, 5.0), Reviews())
    replay = replay_of(cut, asked)
    (found,) = replay.quarters([THEN])
    held, replayed = lives(store)
    touched = {one for one in held if held[one] != replayed[one]}
    classes = {
        str(kind)
        for (kind,) in cut.rows(
            "select distinct class from follow_up where joint_id in (select unnest($t))", t=sorted(touched)
        )
    }
    compared = 0
    for pool, one in zip(replay.pools, found, strict=True):
        for row in then.rows:
            if (row.role, row.joint_class) != (pool.role, pool.joint_class) or row.joint_class in classes:
                continue
            window = [each.label for each in replay.windows].index(row.window)
            unit = pool.codes.index(row.code)
            assert (row.joints, row.revisions) == (one.joints[window, unit], one.revised[window, unit])
            if row.q is not None:
                compared += 1
                assert row.p == pytest.approx(one.p[window, unit], rel=1e-9)
    assert compared > 30
    quarter = report.quarters.index("2014Q3")
    signals = {(row.code, row.role, row.joint_class) for row in then.rows if row.signal == "look closer"}
    assert signals
    seen = {(row.code, row.role, row.joint_class) for row in report.rows if row.states[quarter] == SIGNAL}
    assert seen == signals
    assert report.signals[quarter] == len(signals)
    assert report.tests[quarter] == pytest.approx(then.tests, abs=2)


def test_states_say_when_a_unit_was_first_seen_again_and_not_seen(report: HistoryReport) -> None:
    assert (report.quarters[0], report.quarters[-1]) == ("2002Q2", "2024Q4")
    assert {len(row.states) for row in report.rows} == {len(report.quarters)}
    assert {SEEN_AGAIN, NEVER_SEEN} <= {row.now for row in report.rows}
    row = HistoryRow("KF-001", "femoral", "total", None, " -.#.", "2024Q3", "all", 2.5, 40, 3)
    assert (row.now, row.quarters_seen, row.quarters_since) == (NOT_SEEN, 1, 1)
    assert replace(row, states=" -..#").now == FIRST_SEEN
    for row in report.rows:
        first = row.states.find(SIGNAL)
        assert (row.first_seen is None) == (first < 0) == (row.now == NEVER_SEEN)
        if first >= 0:
            assert row.first_seen == report.quarters[first]
            assert row.years_to_first_seen is not None
            assert 0 < row.years_to_first_seen < 23
    assert report.settings.hash == LOOSE.hash


def test_a_replay_is_remembered_until_what_it_rests_on_changes(
    store: Path, desk: SignalsDesk, report: HistoryReport
) -> None:
    told = desk.remembered_history("implants", Cohort())
    assert told is not None
    assert (told.remembered, told.rows, told.signals) == (True, report.rows, report.signals)
    other = SignalsDesk(store, str(THROUGH), settings=replace(LOOSE, q=0.4))
    assert other.remembered_history("implants", Cohort()) is None
    assert desk.remembered_history("constructs", Cohort()) is None
    for path in (store / FOLDER).glob("*.json"):
        path.write_text("{")  # whatever stands there cannot break an answer
    assert desk.remembered_history("implants", Cohort()) is None


def test_a_replay_tells_how_far_it_is_and_ends_when_it_is_cancelled(desk: SignalsDesk) -> None:
    told: list[tuple[int, int]] = []

    def progress(done: int, of: int) -> None:
        told.append((done, of))
        if done == 3:
            desk.cancel()

    words = filters.parse("class=partial")
    with pytest.raises(Cancelled):
        desk.history("constructs", words, progress=progress)
    assert told[:3] == [(1, 91), (2, 91), (3, 91)]
    assert len(told) < 10
    assert desk.remembered_history("constructs", words) is None
    with pytest.raises(FilterError, match="There is no screen of surgeons"):
        desk.history("surgeons", words)


def test_records_count_from_when_they_were_known_as_they_stand(small: Path) -> None:
    """By hand: a late primary, a revision and a death that came later, a side put right, and feeds that lag."""
    cut = Cut(small, "2010-12-31.1")
    known = KnownThen(cut, joints_of(cut, Cohort(), ()), "implants")
    days = known.quarter_ends(date(2010, 12, 31), date(2010, 12, 31))
    assert [day.isoformat() for day in days] == ["2010-03-31", "2010-06-30", "2010-09-30", "2010-12-31"]
    ids = [one for (one,) in cut.rows("select operation_id from follow_up order by joint_no")]
    told = [dict(zip(ids, then.tolist(), strict=True)) for then in known.on(days)]
    # Days of follow-up, twice, and 1 more with a revision; feeds are complete through 31 January at first.
    assert told[0] == {"H001-1": 42, "H001-2": 42, "H001-3": NOT_THERE, "H001-4": NOT_THERE}
    assert told[1] == told[0]
    # The deaths feed still ends in January, so that follow-up does too; the late and the corrected one are there.
    assert told[2] == {"H001-1": 42, "H001-2": 42, "H001-3": 42, "H001-4": 32}
    ended = (date(2010, 9, 30) - date(2010, 1, 10)).days
    assert told[3] == {"H001-1": 201, "H001-2": 100, "H001-3": 2 * ended, "H001-4": 2 * (ended - 5)}
    assert np.count_nonzero(known.corrected) == 1


def test_a_cohort_without_joints_and_a_cut_without_a_quarter_have_an_answer(small: Path) -> None:
    none = SignalsDesk(small).history("implants", filters.parse("age=..20"))
    assert (none.quarters, none.rows, none.tests) == ((), (), ())
    with pytest.raises(FilterError, match="reason"):
        SignalsDesk(small).history("implants", filters.parse("reason=infection", outcomes=True))
    freeze(small, date(2010, 2, 10), known_as_of=date(2010, 2, 15))
    early = SignalsDesk(small, "2010-02-10").history("implants", Cohort())
    assert (early.quarters, early.rows, early.never_tested) == ((), (), 3)


def test_a_fact_counts_from_when_it_was_known_until_it_was_so_no_longer() -> None:
    """A second revision comes late and is the earlier one; a third was linked for a while."""
    place, day = np.array([0, 0, 1]), np.array([500, 300, 200])
    facts = KnownLater(place, day, np.array([510, 700, 210]), np.array([NEVER, NEVER, 600]))
    told = [found.tolist() for found in map(np.copy, facts.earliest(2, [200, 400, 550, 650, 800]))]
    assert told == [[NEVER, NEVER], [NEVER, 200], [500, 200], [500, NEVER], [300, NEVER]]


def test_a_link_that_a_person_took_away_counts_until_that_day(small: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("regdash.store.link_decisions.now", lambda: "2011-02-01T10:00:00Z")
    undo(small, "H001-5", "another patient")
    cut = Cut(small, freeze(small, date(2010, 12, 31), date(2011, 3, 31), because="a link was undone").cut)
    known = KnownThen(cut, joints_of(cut, Cohort(), ()), "implants")
    ids = [one for (one,) in cut.rows("select operation_id from follow_up order by joint_no")]
    before, after = (then[ids.index("H001-1")] for then in known.on([date(2010, 12, 31), date(2011, 3, 31)]))
    assert before == 2 * 100 + 1
    assert after == 2 * (date(2010, 9, 30) - date(2010, 1, 10)).days


QUARTERS_ALONE = """
version = "1"
title = "Past quarters"
years = [2]
reason_years = 5
horizon = 5
rows_on_paper = 5
sections = ["history"]
"""


def test_the_evidence_on_a_unit_says_the_same_quarters(store: Path, desk: SignalsDesk, report: HistoryReport) -> None:
    row = next(row for row in report.rows if row.first_seen)
    unit, cohort = find_unit(desk, Cohort(), row.code, row.role)
    edition = edition_of("evidence", QUARTERS_ALONE)
    document = build_evidence(desk, edition, unit, cohort, pinned_by_cut(store, desk.manifest), None)
    (table,) = document.tables
    words = [STATE_WORDS[state] for state in row.states]
    quarters = zip(report.quarters, words, report.tests, report.signals, strict=True)
    assert [tuple(one.values()) for one in table.record.rows] == list(quarters)
    (figure,) = document.figures
    assert sum(mark.tag == "rect" for mark in figure.picture.marks) == words.count("signal") + 1  # and one in the key
    assert f"first seen in {row.first_seen}" in figure.alt
