"""
Signals beside their reviews and beside an earlier cut: first seen, seen again, not seen, each with its cause.

That a signal which is new since the last cut, one that was there before and one that is gone are told apart is common
practice of registry offices (no published source); the counts of each cause add up to what the two cuts say.
"""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from regdash import cohort as filters
from regdash.cohort import Cohort
from regdash.errors import Cancelled, FilterError, ReviewError, StoreError
from regdash.reports.policy import Policy
from regdash.signals.desk import SignalsDesk
from regdash.signals.earlier import Earlier, earlier_cut
from regdash.signals.model import (
    FIRST_SEEN,
    LOOK_CLOSER,
    NOT_SEEN,
    SEEN_AGAIN,
    Moved,
    ScreenRow,
    SignalRow,
    SignalsReport,
)
from regdash.signals.pool import windows_of
from regdash.signals.seen import moved, seen
from regdash.signals.unit_moves import UnitMoves
from regdash.store import signal_reviews
from regdash.store.cuts import list_cuts
from regdash.store.signal_reviews import (
    CONFIRMED,
    EVERY,
    NEW,
    UNDER_REVIEW,
    WATCHING,
    RestsOn,
    SignalReview,
    Unit,
    reviews_known,
)
from tests.cuts import component, joint, make_cut
from tests.signals.two_cuts import EARLIER, IMPLANTS, LATER, made

EVERYTHING = Cohort()
WHOLE = windows_of(())[0]


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SignalsDesk]:
    opened = SignalsDesk(made(tmp_path_factory.mktemp("two")))
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def report(desk: SignalsDesk) -> SignalsReport:
    return desk.signals("implants", EVERYTHING)


def only(report: SignalsReport, code: str, window: str = "all") -> SignalRow:
    (row,) = [row for row in report.rows if (row.unit.code, row.screened.window) == (code, window)]
    return row


SEEN = {
    "KF-001": None,
    "KF-002": (SEEN_AGAIN, "new events"),
    "KF-003": (FIRST_SEEN, "new events"),
    "KF-004": (NOT_SEEN, "own follow-up"),
    "KF-005": (FIRST_SEEN, "too few before"),
    "KF-006": (FIRST_SEEN, "not in the earlier cut"),
    "KF-007": (NOT_SEEN, "links undone"),
    "KF-008": None,
}


@pytest.mark.parametrize("code", SEEN)
def test_a_signal_is_first_seen_seen_again_or_not_seen_and_the_cause_is_named(report: SignalsReport, code: str) -> None:
    row = only(report, code)
    assert row.unit == Unit("implants", "knee", "total", "femoral", code)
    assert (row.seen and (row.seen, row.moved and row.moved.cause)) == SEEN[code]
    assert report.earlier == EARLIER


def test_counts_of_the_causes_add_up_to_what_each_cut_says(report: SignalsReport) -> None:
    told = [row for row in report.rows if row.seen]
    assert {row.screened.window for row in told} == {"all", "1..5", "5.."}
    for row in told:
        assert row.moved is not None
        assert row.moved.parts is not None
        difference = sum(row.moved.parts.values())
        if row.before is not None:
            assert row.before.revisions is not None
            assert row.before.revisions + difference == row.screened.revisions
        assert f"{row.screened.revisions} revised" in row.moved.sentence
    first = only(report, "KF-005").moved
    assert first is not None
    assert first.sentence.startswith("2 to 15 revised (+13 new events); expected – to ")
    lost = only(report, "KF-007").moved
    assert lost is not None
    assert lost.parts == {"links_undone": -10}


def test_it_is_counted_how_many_are_new_again_and_gone(report: SignalsReport) -> None:
    assert [report.seen(what) for what in (FIRST_SEEN, SEEN_AGAIN, NOT_SEEN)] == [3, 1, 2]
    assert report.screen.signals == sum(row.screened.signal == LOOK_CLOSER for row in report.rows)


def test_cautions_begin_with_what_a_signal_is_and_how_many_may_be_false(report: SignalsReport) -> None:
    first, second, third, fourth = report.head.cautions[:4]
    assert first.startswith("A signal starts a review and shows no cause")
    assert "tests made; of" in second
    assert f"the screen of data cut {EARLIER}" in third
    assert "decisions rest with licensed practitioners" in fourth
    assert len(set(report.head.cautions)) == len(report.head.cautions)


@pytest.mark.parametrize("kind", ["constructs", "sizes", "lots"])
def test_constructs_sizes_and_lots_are_compared_too(desk: SignalsDesk, kind: str) -> None:
    after = {"constructs": "/KT-001", "sizes": " size 5", "lots": " lot L001"}[kind]
    found = desk.signals(kind, filters.parse("class=total", known=desk.known))
    how = {code: only(found, f"{code}{after}") for code in IMPLANTS}
    assert {code: row.seen for code, row in how.items()} == {code: one and one[0] for code, one in SEEN.items()}
    again = how["KF-002"].moved
    assert again is not None
    assert again.parts == {"new_events": 1}


def test_without_an_earlier_cut_nothing_is_compared_and_it_is_said(desk: SignalsDesk) -> None:
    first = SignalsDesk(desk._store, EARLIER)
    alone = first.signals("implants", EVERYTHING)
    assert (alone.earlier, {row.seen for row in alone.rows}) == (None, {None})
    assert "There is no data cut of an earlier time" in " ".join(alone.head.cautions)
    first.close()
    for wanted, why in ((LATER, "is not of an earlier time"), ("1999-12-31", "There is no data cut 1999-12-31")):
        with pytest.raises(StoreError, match=why):
            desk.signals("implants", EVERYTHING, since=wanted)
    unlike = desk.signals("implants", EVERYTHING, compared=False)
    assert (unlike.earlier, unlike.seen(FIRST_SEEN)) == (None, 0)


def test_a_cut_of_another_release_is_not_compared_with(desk: SignalsDesk, tmp_path: Path) -> None:
    (tmp_path / "cuts").mkdir()
    for path in (desk._store / "cuts").iterdir():
        (tmp_path / "cuts" / path.name).symlink_to(path)
    (old, _) = list_cuts(tmp_path)
    (tmp_path / "cuts" / f"{EARLIER}.json").unlink()
    (tmp_path / "cuts" / f"{EARLIER}.json").write_text(replace(old, layout=1).to_json(), encoding="utf-8")
    found = SignalsDesk(tmp_path).signals("implants", EVERYTHING)
    assert found.earlier is None
    assert "Not compared with the cut before. The data cut 2023-12-31.1 has layout 1" in " ".join(found.head.cautions)


def test_small_counts_are_withheld_where_the_office_says_so(desk: SignalsDesk) -> None:
    careful = SignalsDesk(desk._store, policy=Policy(withhold_counts_under=5))
    found = careful.signals("implants", EVERYTHING)
    again, first = only(found, "KF-002").moved, only(found, "KF-006").moved
    assert again == Moved("new events", "", None)  # one revision more
    assert first is not None
    assert first.parts == {"new_events": 15}
    careful.close()


# What moved, on counts alone


def row(signal: str = LOOK_CLOSER, **figures: float | None) -> ScreenRow:
    own = {"revisions": 20, "implant_years": 1000.0, "expected": 10.0, "q": 0.01} | figures
    none = dict.fromkeys(name for name in ScreenRow.__dataclass_fields__ if name not in own)
    named = {"code": "KF-001", "role": "femoral", "joint_class": "total", "window": "all", "signal": signal}
    return ScreenRow(**{**none, **own, **named})  # type: ignore[arg-type]


def cause(what: str, before: ScreenRow, now: ScreenRow, out: bool = False, **parts: int) -> str:
    names = ("definition_changes", "corrections", "links_undone", "new_links", "late_events", "new_events")
    moves = UnitMoves([500, *[0] * 6], [(0, 900, 20), *((names.index(n) + 1, 900, k) for n, k in parts.items())])
    return moved(Policy(), what, WHOLE, (before, now), moves, out).cause


def test_the_largest_part_that_pushes_the_way_it_went_is_named() -> None:
    assert cause(FIRST_SEEN, row(), row(), new_events=2, late_events=3, corrections=-4) == "late events"
    assert cause(NOT_SEEN, row(), row(), new_events=2, late_events=3, corrections=-4) == "corrections"
    assert cause(FIRST_SEEN, row(), row(), new_links=3, definition_changes=3) == "definitions and new links"
    assert cause(SEEN_AGAIN, row(), row(), new_events=1, links_undone=-3) == "links undone"
    assert cause(SEEN_AGAIN, row(), row(expected=40.0)) == "no revision moved"
    assert cause(NOT_SEEN, row(), row(), new_events=2) == "chance of the test"


def test_what_was_expected_moves_by_own_follow_up_or_by_the_others() -> None:
    """Twice the follow-up at the others' old rate is 10 revisions more; what is left comes of their rate."""
    grown = {"implant_years": 2000.0}
    assert cause(NOT_SEEN, row(), row(expected=20.0, **grown), new_events=2) == "own follow-up"
    assert cause(NOT_SEEN, row(), row(expected=35.0, **grown), new_events=2) == "rate of the others"
    assert cause(NOT_SEEN, row(), row(expected=35.0, **grown), out=True) == "others withdrawn or confirmed"
    assert cause(FIRST_SEEN, row(), row(expected=4.0), new_events=2) == "rate of the others"
    assert cause(NOT_SEEN, row(), row(expected=10.3)) == "chance of the test"


def test_what_was_not_tested_is_called_so() -> None:
    assert cause(FIRST_SEEN, row(q=None), row(), new_events=9) == "too few before"
    assert cause(NOT_SEEN, row(), row(q=None), corrections=-9) == "too few now"
    assert seen(None, row()) == NOT_SEEN
    assert seen(row("too few to say"), None) is None


# Reviews


@pytest.fixture
def reviewed(desk: SignalsDesk, tmp_path: Path) -> Iterator[SignalsDesk]:
    """The same cuts, and an office file of its own."""
    (tmp_path / "cuts").symlink_to(desk._store / "cuts")
    opened = SignalsDesk(tmp_path)
    yield opened
    opened.close()


def decided(desk: SignalsDesk, kind: str, cohort: Cohort, code: str, *how: str, **more: Any) -> SignalReview:
    return desk.decide(desk.called(kind, cohort, code), cohort, *how, **more)


def test_a_decision_rests_on_the_figures_of_the_screen(reviewed: SignalsDesk) -> None:
    review = decided(reviewed, "implants", filters.parse("joint=knee"), "kf-002", UNDER_REVIEW, "asked the hospital")
    found = reviewed.signals("implants", filters.parse("joint=knee"))
    own = {row.screened.window: row.screened for row in found.rows if row.unit.code == "KF-002"}
    least = min((one for one in own.values() if one.q is not None), key=lambda one: one.q or 0)
    rests = review.rests_on
    assert (rests.figures_of, rests.q, rests.hazard_ratio) == (least.window, least.q, least.hazard_ratio)
    assert (rests.joints, rests.revisions, rests.expected) == (least.joints, least.revisions, least.expected)
    assert (rests.cut, rests.content_hash, rests.cohort) == (LATER, "test", "joint=knee")
    assert (rests.settings_version, rests.settings_hash) == ("1", reviewed.settings.hash)
    assert (only(found, "KF-002").state, only(found, "KF-002").review) == (UNDER_REVIEW, review)
    assert only(found, "KF-008").state == NEW
    one = decided(reviewed, "implants", EVERYTHING, "KF-002", WATCHING, "its first years", window="1..5", after=1)
    assert one.rests_on.figures_of == "1..5"
    found = reviewed.signals("implants", EVERYTHING)
    assert [only(found, "KF-002", window).state for window in ("all", "1..5")] == [UNDER_REVIEW, WATCHING]


def test_a_decision_by_other_settings_is_said_to_be_one(reviewed: SignalsDesk) -> None:
    decided(reviewed, "implants", EVERYTHING, "KF-002", WATCHING, "why")
    said = "The decision that stands rests on other settings than these, which may be why it differs: KF-002."
    assert said not in reviewed.signals("implants", EVERYTHING).head.cautions
    stricter = SignalsDesk(reviewed._store, settings=replace(reviewed.settings, version="2", stated_ratio=1.5))
    assert said in stricter.signals("implants", EVERYTHING).head.cautions
    stricter.close()


def test_a_cancelled_question_ends_in_the_earlier_cut_too(desk: SignalsDesk) -> None:
    with desk._asking() as cut:
        found = earlier_cut(cut)
        assert cut.question is not None
        assert found is not None
        cut.question.cancel()
        with pytest.raises(Cancelled):
            Earlier(cut, found).screened(lambda other: other.rows("select 1"))  # type: ignore[arg-type, return-value]
        with pytest.raises(Cancelled):
            Earlier(cut, found).moves(EVERYTHING, [Unit("implants", "knee", "total", "femoral", "KF-002")])


def test_what_is_decided_must_be_there(reviewed: SignalsDesk) -> None:
    with pytest.raises(FilterError, match=r"tells of no KF-022\. Nearest: KF-002"):
        decided(reviewed, "implants", EVERYTHING, "KF-022", WATCHING, "why")
    with pytest.raises(FilterError, match=r"tells of KF-002 in all, .* alone, not in 0\.\.3\."):
        decided(reviewed, "implants", EVERYTHING, "KF-002", WATCHING, "why", window="0..3")
    with pytest.raises(ReviewError, match="cannot become confirmed"):
        decided(reviewed, "implants", EVERYTHING, "KF-002", CONFIRMED, "why")
    assert list(reviews_known(reviewed._store)) == []


def test_a_code_in_two_roles_is_told_apart_by_its_role(tmp_path: Path) -> None:
    parts = [component("femoral", "KF-001"), component("tibial", "KF-001")]
    desk = SignalsDesk(make_cut(tmp_path, [joint(components=parts) for _ in range(20)]))
    with pytest.raises(FilterError, match=r"KF-001 stands for several: .*femoral.*tibial.*--role"):
        desk.called("implants", EVERYTHING, "KF-001")
    assert desk.called("implants", EVERYTHING, "KF-001", role="tibial").role == "tibial"


def test_what_is_confirmed_leaves_the_comparison_groups_and_a_past_screen_can_be_made_again(
    reviewed: SignalsDesk, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = reviewed.screen("implants", EVERYTHING)
    for day, state in (("2025-02-10", UNDER_REVIEW), ("2025-02-20", CONFIRMED)):
        monkeypatch.setattr(signal_reviews, "now", lambda day=day: f"{day}T09:00:00Z")
        decided(reviewed, "implants", EVERYTHING, "KF-002", state, "the records say so")
    after = reviewed.screen("implants", EVERYTHING)
    assert (before.apart, after.apart) == ((), ("KF-002",))
    said = " ".join(after.head.cautions)
    assert "60 joints with 1 confirmed implant are in nobody's comparison group" in said
    assert "Confirmed in reviews so far, and so in nobody's comparison group: KF-002." in said
    # KF-008 is compared with fewer revisions now, KF-002 with the same as before.
    expected = [{one.code: one.expected for one in found.rows if one.window == "all"} for found in (before, after)]
    assert expected[1]["KF-008"] < expected[0]["KF-008"]
    assert expected[1]["KF-002"] == expected[0]["KF-002"]
    again = reviewed.screen("implants", EVERYTHING, reviews_as_of=date(2025, 2, 19))
    assert (again.rows, again.apart) == (before.rows, ())
    facts = after.used.facts("implants")
    assert (facts["taken"], facts["confirmed"], facts["as_of"]) == (2, ["KF-002"], None)
    assert again.used.facts("implants")["taken"] == 1
    signals = reviewed.signals("implants", EVERYTHING)
    assert (signals.screen.apart, only(signals, "KF-002").state) == (("KF-002",), CONFIRMED)
    # The settings' own stay as they are.
    both = replace(reviewed.settings, confirmed=("KF-007",))
    desk = SignalsDesk(reviewed._store, settings=both)
    assert desk.screen("implants", EVERYTHING).apart == ("KF-002", "KF-007")
    desk.close()


def test_a_confirmed_construct_is_left_out_among_constructs_alone(reviewed: SignalsDesk) -> None:
    for state in (UNDER_REVIEW, CONFIRMED):
        decided(reviewed, "constructs", EVERYTHING, "KF-002/KT-001", state, "the records say so")
    assert reviewed.screen("constructs", EVERYTHING).apart == ("KF-002/KT-001",)
    assert reviewed.screen("implants", EVERYTHING).apart == reviewed.screen("sizes", EVERYTHING).apart == ()


def test_what_was_decided_stays_visible_when_it_is_no_longer_a_signal_or_no_longer_there(reviewed: SignalsDesk) -> None:
    decided(reviewed, "implants", EVERYTHING, "KF-007", WATCHING, "fell off")
    gone = Unit("implants", "knee", "total", "femoral", "KF-077")
    rests = RestsOn(EARLIER, "test", "", "1", "hash")
    signal_reviews.decide(reviewed._store, gone, EVERY, WATCHING, "an old one", rests)
    listed = [row for row in reviewed.signals("implants", EVERYTHING).rows if row.is_listed]
    found = {row.unit.code: row for row in listed if row.screened.window == "all"}
    assert (found["KF-007"].seen, found["KF-007"].screened.signal, found["KF-007"].state)[::2] == (NOT_SEEN, WATCHING)
    assert found["KF-007"].screened.signal != LOOK_CLOSER
    assert (found["KF-077"].state, found["KF-077"].screened.joints) == (WATCHING, None)
    assert "not in this screen" in (found["KF-077"].screened.withheld or "")
    assert "KF-008" not in found
    # A filter on joint and class says whether it should be there; others choose joints, and say nothing of it.
    for words, there in (("class=total", True), ("class=partial", False), ("joint=hip", False), ("sex=female", False)):
        rows = reviewed.signals("implants", filters.parse(words)).rows
        assert ("KF-077" in {row.unit.code for row in rows}) is there, words
    assert decided(reviewed, "implants", EVERYTHING, "KF-077", UNDER_REVIEW, "look again").rests_on.figures_of == ""
