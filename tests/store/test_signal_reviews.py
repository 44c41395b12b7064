"""
Reviews of signals: their life, who decided what on which figures, and several people deciding at once.

Which states there are, and which may follow which, is this office's own rule (no published source).
"""

import re
import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest

from regdash.errors import ReviewError
from regdash.signals.model import KINDS
from regdash.store import signal_reviews
from regdash.store.office import office_path
from regdash.store.signal_reviews import (
    CLOSED,
    CONFIRMED,
    EVERY,
    EXPLAINED,
    MOVES,
    NEW,
    STATES,
    UNDER_REVIEW,
    WATCHING,
    RestsOn,
    Reviews,
    SignalReview,
    Unit,
    decide,
    reviews_known,
    state_named,
)
from regdash.store.sqlfiles import sql_file

CHECKOUT = Path(__file__).parent.parent.parent
TIBIAL = Unit("implants", "knee", "total", "tibial", "KT-015")
OTHER = Unit("implants", "knee", "total", "femoral", "KF-015")
FIGURES = RestsOn(
    cut="2024-12-31.1",
    content_hash="abc",
    cohort="joint=knee",
    settings_version="1",
    settings_hash="def",
    figures_of="all",
    signal="look closer",
    joints=618,
    implant_years=4012.5,
    revisions=46,
    expected=27.8,
    hazard_ratio=1.66,
    lower=1.2,
    upper=2.25,
    q=0.012,
)


def said(store: Path, state: str, window: str = EVERY, unit: Unit = TIBIAL, **more: object) -> SignalReview:
    return decide(store, unit, window, state, "the reason", FIGURES, **more)  # type: ignore[arg-type]


def test_a_decision_keeps_who_why_and_every_figure_that_it_rests_on(tmp_path, monkeypatch):
    monkeypatch.setenv("REGDASH_USER", "analyst one")
    review = decide(tmp_path, TIBIAL, "0..1", UNDER_REVIEW, "  asked the hospitals ", FIGURES)
    assert (review.number, review.unit, review.window, review.state) == (1, TIBIAL, "0..1", UNDER_REVIEW)
    assert (review.why, review.decided_by, review.supersedes) == ("asked the hospitals", "analyst one", None)
    assert review.rests_on == FIGURES
    assert list(reviews_known(tmp_path)) == [review]
    assert review.facts["hazard_ratio"] == 1.66
    assert (review.facts["code"], review.facts["role"]) == ("KT-015", "tibial")


def test_a_review_has_a_life_and_the_last_decision_stands(tmp_path):
    assert reviews_known(tmp_path).state(TIBIAL) == NEW
    for state in (UNDER_REVIEW, CONFIRMED, WATCHING, CLOSED, UNDER_REVIEW, EXPLAINED):
        said(tmp_path, state)
    said(tmp_path, WATCHING, unit=OTHER)
    known = reviews_known(tmp_path)
    assert [one.state for one in known.life(TIBIAL)][-2:] == [UNDER_REVIEW, EXPLAINED]
    assert [one.supersedes for one in known] == [None, 1, 2, 3, 4, 5, None]
    assert (known.state(TIBIAL), known.state(OTHER)) == (EXPLAINED, WATCHING)
    assert known.units == (TIBIAL, OTHER)


def test_every_move_is_allowed_or_refused_as_the_one_table_says(tmp_path):
    """Each state is reached by allowed moves first, in a store of its own, and then every other is tried from it."""
    way = {
        NEW: (),
        UNDER_REVIEW: (UNDER_REVIEW,),
        EXPLAINED: (EXPLAINED,),
        CONFIRMED: (UNDER_REVIEW, CONFIRMED),
        WATCHING: (WATCHING,),
        CLOSED: (CLOSED,),
    }
    assert set(way) == set(STATES) == set(MOVES)
    for start, steps in way.items():
        units = [Unit("lots", "knee", "total", "tibial", f"KT-001 lot {start} {n}") for n in range(len(STATES))]
        for unit, state in zip(units, STATES):
            for step in steps:
                said(tmp_path, step, unit=unit)
            if state in MOVES[start]:
                assert said(tmp_path, state, unit=unit).state == state
            else:
                with pytest.raises(ReviewError, match=f"is {start}, and cannot become {state}") as refusal:
                    said(tmp_path, state, unit=unit)
                for allowed in MOVES[start]:
                    assert allowed.replace(" ", "-") in str(refusal.value)
    assert CONFIRMED not in MOVES[NEW]
    assert not any(NEW in moves for moves in MOVES.values())


def test_a_window_has_its_own_review_and_one_of_every_window_covers_it(tmp_path):
    said(tmp_path, UNDER_REVIEW, "0..1")
    known = reviews_known(tmp_path)
    assert (known.state(TIBIAL, "0..1"), known.state(TIBIAL, "1..5")) == (UNDER_REVIEW, NEW)
    said(tmp_path, CONFIRMED, "0..1")
    said(tmp_path, EXPLAINED, "1..5")
    known = reviews_known(tmp_path)
    assert known.confirmed("implants") == ("KT-015",)  # another window's decision does not take it back
    with pytest.raises(ReviewError, match="is explained, and cannot become confirmed"):
        said(tmp_path, CONFIRMED)  # the last that speaks of any window
    said(tmp_path, CLOSED)
    known = reviews_known(tmp_path)
    assert {known.state(TIBIAL, window) for window in ("0..1", "1..5", "all", EVERY)} == {CLOSED}
    assert known.confirmed("implants") == known.confirmed("sizes") == ()
    assert [one.supersedes for one in known] == [None, 1, None, 3]


def test_a_decision_that_rests_on_an_older_one_says_who_decided_and_when(tmp_path, monkeypatch):
    monkeypatch.setenv("REGDASH_USER", "analyst one")
    said(tmp_path, UNDER_REVIEW, after=0)
    first = said(tmp_path, WATCHING, after=1)
    monkeypatch.setenv("REGDASH_USER", "analyst two")
    with pytest.raises(ReviewError) as refusal:
        said(tmp_path, CLOSED, after=1)
    expected = f"KT-015 was decided meanwhile: watching, by analyst one at {first.decided_at} \\(decision 2\\)"
    assert re.match(expected, str(refusal.value))
    with pytest.raises(ReviewError, match="rests on none"):
        said(tmp_path, CLOSED, after=0)
    with pytest.raises(ReviewError, match="Nobody has decided anything on KF-015"):
        said(tmp_path, CLOSED, unit=OTHER, after=2)
    assert said(tmp_path, UNDER_REVIEW, "0..1", unit=OTHER, after=0).number == 3
    assert len(reviews_known(tmp_path).taken) == 3


def test_a_reason_is_one_line_that_can_be_shown_and_has_an_end(tmp_path):
    why = "asked\r\nthe \x1b[31mhospitals\x07\t again"
    assert decide(tmp_path, TIBIAL, EVERY, WATCHING, why, FIGURES).why == "asked the [31mhospitals again"
    with pytest.raises(ReviewError, match="has 2,001 characters; at most 2,000 are kept"):
        decide(tmp_path, TIBIAL, EVERY, WATCHING, "a" * 2001, FIGURES)
    assert len(decide(tmp_path, TIBIAL, EVERY, WATCHING, "a" * 2000, FIGURES).why) == 2000


def test_a_reason_is_needed_and_names_no_patient(tmp_path):
    with pytest.raises(ReviewError, match="needs a reason"):
        decide(tmp_path, TIBIAL, EVERY, WATCHING, " \n", FIGURES)
    with pytest.raises(ReviewError, match="There is no state bad"):
        decide(tmp_path, TIBIAL, EVERY, "bad", "why", FIGURES)
    review = decide(tmp_path, TIBIAL, EVERY, WATCHING, "joint P123456789-KL was sent twice", FIGURES)
    assert review.why == "joint [patient]-KL was sent twice"
    assert b"P123456789" not in office_path(tmp_path).read_bytes()


def test_past_reviews_are_those_up_to_the_end_of_a_day(tmp_path, monkeypatch):
    for day, state in (("2025-02-10", UNDER_REVIEW), ("2025-02-11", CONFIRMED), ("2025-05-10", CLOSED)):
        monkeypatch.setattr(signal_reviews, "now", lambda day=day: f"{day}T23:59:59Z")
        said(tmp_path, state)
    states = {day: reviews_known(tmp_path, date.fromisoformat(day)).state(TIBIAL) for day in DAYS}
    assert states == dict(zip(DAYS, (NEW, UNDER_REVIEW, CONFIRMED, CLOSED)))
    assert reviews_known(tmp_path, date(2025, 3, 1)).confirmed("implants") == ("KT-015",)
    hashes = {reviews_known(tmp_path, date.fromisoformat(day)).facts["hash"] for day in DAYS}
    assert len(hashes) == 4


DAYS = ("2025-02-09", "2025-02-10", "2025-02-11", "2025-05-10")


def test_lines_are_only_added_and_only_behind_what_stands(tmp_path):
    said(tmp_path, UNDER_REVIEW)
    with closing(sqlite3.connect(office_path(tmp_path))) as file:
        for change in (
            "update signal_reviews set state = 'closed'",
            "delete from signal_reviews",
            "insert into signal_reviews select 2, kind, joint, joint_class, role, code, window, state, why, decided_by,"
            "account, decided_at, cut, content_hash, cohort, settings_version, settings_hash, figures_of, signal, "
            "null, null, null, null, null, null, null, null, null from signal_reviews",  # says that none stood
        ):
            with pytest.raises(sqlite3.DatabaseError, match="append-only"):
                file.execute(change)
    assert reviews_known(tmp_path).state(TIBIAL) == UNDER_REVIEW


def test_the_table_takes_the_kinds_and_states_of_the_program():
    text = sql_file("office/tables/signal_reviews").query
    kinds, states = (re.search(rf"{name}\s+text not null\s+check \({name} in \(([^)]*)", text) for name in NAMED)
    assert kinds is not None
    assert states is not None
    assert re.findall(r"'([^']*)'", kinds[1]) == list(KINDS)
    assert re.findall(r"'([^']*)'", states[1]) == [state for state in STATES if state != NEW]


NAMED = ("kind", "state")


def test_a_state_is_read_as_people_type_it():
    assert state_named("Under-Review ") == state_named("under review") == UNDER_REVIEW
    with pytest.raises(ReviewError, match="A signal is new, under-review, explained, confirmed, watching or closed"):
        state_named("good")


ANALYST = """
import sys
from pathlib import Path
from regdash.errors import ReviewError
from regdash.store.signal_reviews import EVERY, UNDER_REVIEW, WATCHING, decide
from tests.store.test_signal_reviews import FIGURES, OTHER, TIBIAL
store, name = Path(sys.argv[1]), sys.argv[2]
sys.stdin.read()  # all of them begin at once
for turn in range(5):
    decide(store, OTHER, EVERY, WATCHING, f"{name} {turn}", FIGURES)
try:
    decide(store, TIBIAL, EVERY, UNDER_REVIEW, name, FIGURES, after=0)
    print("decided")
except ReviewError as refusal:
    print(refusal)
"""


def test_of_several_processes_at_once_one_decides_and_the_others_are_told_who(tmp_path):
    names = ("one", "two", "three")
    command = [sys.executable, "-c", ANALYST, str(tmp_path)]
    analysts = [
        subprocess.Popen(
            [*command, name],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            cwd=CHECKOUT,
            env={"REGDASH_USER": name, "PYTHONPATH": str(CHECKOUT)},
        )
        for name in names
    ]
    for analyst in analysts:
        assert analyst.stdin is not None
        analyst.stdin.close()
    answers = [analyst.stdout.read().strip() for analyst in analysts if analyst.stdout]
    assert [analyst.wait(60) for analyst in analysts] == [0, 0, 0]
    known = reviews_known(tmp_path)
    (first,) = known.life(TIBIAL)
    assert answers[names.index(first.decided_by)] == "decided"
    refused = [answer for answer in answers if answer != "decided"]
    assert len(refused) == 2
    assert all(f"decided meanwhile: under review, by {first.decided_by} at" in answer for answer in refused)
    # Nothing is lost, and every decision says which one stood before it.
    others = known.life(OTHER)
    assert sorted(one.why for one in others) == sorted(f"{name} {turn}" for name in names for turn in range(5))
    assert [one.supersedes for one in others] == [None, *(one.number for one in others[:-1])]
    assert [one.number for one in known] == list(range(1, 17))


def test_nothing_is_known_where_nobody_has_written(tmp_path):
    assert (list(reviews_known(tmp_path)), Reviews().units) == ([], ())
