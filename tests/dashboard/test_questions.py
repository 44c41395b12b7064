"""Questions that take long, are overtaken, cancelled, refused or faulty."""

import io
import time
from pathlib import Path

import pytest
from textual.worker import WorkerFailed

from regdash import cohort, dashboard
from regdash.dashboard.app import Dashboard
from regdash.dashboard.asked import Asked
from regdash.errors import FilterError, RegdashError, StoreError
from tests.dashboard.driving import Driver, driven
from tests.dashboard.fake_desk import FakeDesk


async def ask_slowly(on: Driver, text: str) -> None:
    """Ask for the risk of a cohort that is thought about, and wait until it is."""
    await on.pilot.press("slash", "ctrl+u")
    await on.pilot.press(*("equals_sign" if sign == "=" else sign for sign in text))
    await on.pilot.press("enter")
    await on.until(lambda: text in on.desk.thinking)


async def test_the_old_answer_stays_with_a_quiet_mark_while_a_new_one_is_counted():
    async with driven() as on:
        before = on.lines
        on.desk.slow.add("sex=male")
        await ask_slowly(on, "sex=male")
        assert "counting…" in on.lines[2]
        assert on.lines[4:19] == before[4:19]
        on.desk.thinking["sex=male"].answer()
        await on.settled()
        assert "counting…" not in on.text
        assert on.lines[4:19] != before[4:19]


async def test_an_overtaken_question_is_cancelled():
    async with driven() as on:
        on.desk.slow.add("sex=male")
        await ask_slowly(on, "sex=male")
        await on.pilot.press("slash", "ctrl+u", "enter")
        await on.settled()
        assert on.desk.thinking["sex=male"].cancelled
        assert "every joint" in on.lines[1]


async def test_a_late_answer_never_replaces_a_newer_one():
    async with driven() as on:
        on.desk.slow.add("sex=male")
        on.desk.deaf.add("sex=male")  # it does not hear that it is cancelled, and answers after the next one
        await ask_slowly(on, "sex=male")
        await on.pilot.press("slash", "ctrl+u", *"class", "equals_sign", *"total", "enter")
        await on.until(lambda: "▸a total" in on.text and "b partial" not in on.text)
        newer = on.lines
        on.desk.thinking["sex=male"].answer()
        await on.settled()
        assert on.lines == newer
        assert str(on.app.place.answer.head.cohort) == "class=total"


async def test_ctrl_x_cancels_and_filter_and_figures_still_agree():
    async with driven("class=total") as on:
        before = on.lines
        on.desk.slow.add("sex=male")
        await ask_slowly(on, "sex=male")
        await on.pilot.press("ctrl+x")
        await on.settled()
        assert on.desk.thinking["sex=male"].cancelled
        assert on.lines[:19] == before[:19]
        assert "Cancelled" in on.text
        on.desk.slow.clear()
        await on.press("U")
        assert "filter  sex=male" in on.lines[1]


async def test_ctrl_x_on_the_first_question_leaves_it_to_be_asked_again():
    desk = FakeDesk()
    desk.slow.add("")
    async with driven(desk=desk) as on:
        await on.until(lambda: "" in desk.thinking)
        await on.pilot.press("ctrl+x")
        await on.until(lambda: "Cancelled. r asks again." in on.text)
        desk.slow.clear()
        await on.press("r")
        assert "a total" in on.text


async def test_going_to_another_place_overtakes_and_coming_back_asks_again():
    async with driven() as on:
        on.desk.slow.add("sex=male")
        await ask_slowly(on, "sex=male")
        on.desk.slow.clear()
        await on.press("5")
        assert on.desk.thinking["sex=male"].cancelled
        await on.press("2")
        assert [str(about) for about in on.asked("risk")] == ["", "sex=male", "sex=male"]
        assert "filter  sex=male" in on.lines[1]
        assert "counting…" not in on.text


async def test_a_page_of_joints_that_was_cancelled_is_fetched_on_return():
    async with driven() as on:
        await on.press("enter", "enter")
        last = str(("class=total ended=revised reason=infection", 1200, "implanted_date"))
        on.desk.slow.add(last)
        await on.pilot.press("end")
        await on.until(lambda: last in on.desk.thinking)
        assert on.at_cursor() == "▸…"
        on.desk.slow.clear()
        await on.press("3")
        assert on.desk.thinking[last].cancelled
        await on.press("2")
        assert on.at_cursor().startswith("▸P000001233-KL")


async def test_quitting_while_a_question_runs_ends_it_and_the_program():
    async with driven() as on:
        on.desk.slow.add("sex=male")
        await ask_slowly(on, "sex=male")
        began = time.monotonic()
        await on.pilot.press("q", "q")
        await on.until(lambda: not on.app.is_running)
    assert on.desk.thinking["sex=male"].cancelled
    assert time.monotonic() - began < 10  # it would think for 30 seconds


async def test_a_refusal_is_one_line_and_the_old_answer_stays():
    async with driven() as on:
        before = on.lines
        on.desk.fault = FilterError("Grouping by surgeon gives 3,000 groups. Filter first.")
        await on.press("v")
        assert "Grouping by surgeon gives 3,000 groups. Filter first." in on.lines[-2]
        assert on.lines[4:19] == before[4:19]


async def test_a_bug_is_not_swallowed():
    async def meet_it() -> None:
        async with driven() as on:
            on.desk.fault = ZeroDivisionError("a bug")
            await on.pilot.press("v")
            await on.until(lambda: not on.app.is_running)

    with pytest.raises(WorkerFailed, match="a bug"):
        await meet_it()


async def test_a_cut_that_cannot_be_opened_ends_the_program_with_the_refusal():
    def refuse(cut: str | None) -> FakeDesk:
        raise StoreError("There is no data cut in /nowhere.")

    app = Dashboard(refuse, None, Asked())
    async with app.run_test() as pilot:
        for _ in range(200):
            await pilot.pause(0.01)
            if not app.is_running:
                break
    assert str(app.return_value) == "There is no data cut in /nowhere."


async def test_a_code_that_the_cut_does_not_know_ends_the_program_with_the_nearest_ones():
    app = Dashboard(lambda cut: FakeDesk(), None, Asked(cohort.parse("hospital=H013")))
    async with app.run_test() as pilot:
        for _ in range(200):
            await pilot.pause(0.01)
            if not app.is_running:
                break
    assert "hospital has no value H013. Nearest: " in str(app.return_value)


async def test_a_cut_of_several_joints_opens_on_one_of_them_and_says_so():
    class Mixed(FakeDesk):
        first_joint = "knee"

    async with driven(desk=Mixed()) as on:
        assert "filter  joint=knee" in on.lines[1]
        assert {str(cohort) for cohort in on.app.history.now.cohort.words} == {"joint=knee"}
    async with driven("class=hemi", desk=Mixed()) as on:
        assert "filter  class=hemi" in on.lines[1]  # what was asked for stands


async def test_a_cut_that_lacks_a_code_of_the_filter_is_not_changed_to():
    class Older(FakeDesk):
        @property
        def known(self) -> dict[str, tuple[str, ...]]:
            return {"hospital": ("H001", "not recorded")}

    older = Older("2023-12-31.1")
    async with driven("hospital=H012") as on:
        on.app._open_desk = lambda cut: older
        await on.press("8", "down", "enter")
        await on.until(lambda: "hospital has no value H012" in on.text)
        assert "2024-12-31.1" in on.lines[2]
        assert older.closed
        assert not on.desk.closed


def test_without_a_terminal_it_says_so_in_one_line(monkeypatch):
    monkeypatch.setattr("sys.stdin", io.StringIO())
    with pytest.raises(RegdashError, match="needs a terminal"):
        dashboard.run(Path("/nowhere"))


def test_a_dumb_terminal_is_refused_in_one_line(monkeypatch):
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    monkeypatch.setenv("TERM", "dumb")
    with pytest.raises(RegdashError, match="TERM=dumb"):
        dashboard.run(Path("/nowhere"))
