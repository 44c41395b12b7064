"""A synthetic register all the way, dirt and delay included: what its key calls poor is a signal."""

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from regdash.cohort import Cohort
from regdash.intake.receive import receive
from regdash.signals.desk import SignalsDesk
from regdash.store.freeze import freeze
from synthetic_registry import make

pytestmark = pytest.mark.slow
Planted = dict[str, Any]


@pytest.fixture(scope="module")
def register(tmp_path_factory: pytest.TempPathFactory) -> tuple[SignalsDesk, Planted]:
    folder = tmp_path_factory.mktemp("register")
    made = make(folder / "sent", 60_000, seed=2, only=("knee",))
    receive(folder / "store", [made.out])
    freeze(folder / "store", date(2024, 12, 31))
    return SignalsDesk(folder / "store"), json.loads((Path(made.key) / "planted.json").read_text(encoding="utf-8"))


def signals(desk: SignalsDesk, kind: str) -> set[tuple[str, str]]:
    return {(row.code, row.window) for row in desk.screen(kind, Cohort()).rows if row.signal == "look closer"}


def only(planted: Planted, kind: str) -> Planted:
    (found,) = [one for one in planted["implants"] if one["kind"] == kind]
    return found


def test_implants_that_are_poor_early_or_late_are_signals_alone_and_in_their_construct(
    register: tuple[SignalsDesk, Planted],
) -> None:
    desk, planted = register
    start, late = (only(planted, kind) for kind in ("poor from the start", "poor after five years"))
    implants, constructs = signals(desk, "implants"), signals(desk, "constructs")
    assert {(start["implant"], "all"), (late["implant"], "5..")} <= implants
    assert {(start["construct"], "all"), (late["construct"], "5..")} <= constructs
    assert not {(late["implant"], window) for window in ("0..1", "1..5")} & implants


def test_a_poor_size_and_a_poor_lot_are_signals_among_thousands(register: tuple[SignalsDesk, Planted]) -> None:
    desk, planted = register
    sized, (lot,) = only(planted, "poor in one size"), planted["lots"]
    assert (f"{sized['implant']} size {sized['size']}", "all") in signals(desk, "sizes")
    found = signals(desk, "lots")
    assert (f"{lot['implant']} lot {lot['lot']}", "all") in found
    assert len({code for code, _ in found}) <= 4


def test_the_implant_that_only_looks_poor_is_a_signal_and_its_surgeon_is_named_for_it(
    register: tuple[SignalsDesk, Planted],
) -> None:
    """Its surgeon is poor in all that he or she does, and with others the implant does as others do."""
    desk, planted = register
    looks = only(planted, "only looks poor")
    assert (looks["implant"], "all") in signals(desk, "implants")
    (fall,) = [one for one in desk.explained(looks["implant"]).falls if one.unit == "surgeon"]
    assert fall.user == looks["main_surgeon"] in {one["code"] for one in planted["surgeons"]}
    # Without that surgeon either too little is left to say, or nothing that the stated ratio would not allow.
    few = f"fewer than {desk.policy.minimum_events} of its revisions are left" in (fall.withheld or "")
    assert few or (fall.ratio_without is not None and fall.ratio_without < desk.settings.stated_ratio)


def test_withdrawn_implants_of_the_catalogue_are_named_and_left_out(register: tuple[SignalsDesk, Planted]) -> None:
    desk, _ = register
    report = desk.screen("implants", Cohort())
    assert report.apart
    assert any("withdrawn implants are in nobody's comparison group" in said for said in report.head.cautions)


def test_the_implant_that_only_looks_poor_has_its_surgeon_named(register: tuple[SignalsDesk, Planted]) -> None:
    """The surgeon of nearly all of it stands in the finding, with how much of it is theirs."""
    desk, planted = register
    looks = only(planted, "only looks poor")
    page = desk.explained(looks["implant"])
    (fall,) = [row for row in page.falls if row.unit == "surgeon"]
    assert looks["main_surgeon"] in fall.finding
    (user,) = [row for row in page.users if row.user == looks["main_surgeon"]]
    assert user.joints is not None
    assert page.whole.joints is not None
    assert user.joints > 0.7 * page.whole.joints
    # What is poor by itself falls little without anybody: its users agree.
    poor = desk.explained(only(planted, "poor from the start")["implant"])
    assert all(row.fall is not None and row.fall < 0.2 for row in poor.falls)


def test_a_replay_sees_planted_implants_after_their_first_use_and_the_late_one_only_late(
    register: tuple[SignalsDesk, Planted],
) -> None:
    desk, planted = register
    report = desk.history("implants", Cohort())
    start, late = (only(planted, kind) for kind in ("poor from the start", "poor after five years"))
    (seen_start,), (seen_late,) = (
        [row for row in report.of(one["implant"]) if row.joint_class == "total"] for one in (start, late)
    )
    assert seen_start.years_to_first_seen is not None
    assert seen_late.years_to_first_seen is not None
    # Nobody can have been revised for it before five years, and its window is the one from then on, or all of it.
    assert seen_late.years_to_first_seen > 5
    assert seen_late.window in ("5..", "all")
    assert 0 < seen_start.years_to_first_seen < 23
    assert seen_start.joints is not None
    assert (seen_start.revisions or 0) >= 3
    # What is a signal is so again in most quarters that follow.
    assert seen_start.quarters_seen >= 0.7 * (seen_start.quarters_since + 1)
    assert {(row.code, row.role) for row in report.rows if row.states.endswith("#")} >= {(start["implant"], "tibial")}
