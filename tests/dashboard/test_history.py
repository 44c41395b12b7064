"""The place of past quarters: a strip a unit, words beside it, progress while it is made, and cancelled by a key."""

from tests.dashboard.driving import driven
from tests.dashboard.fake_desk import FakeDesk


async def test_units_stand_beside_their_quarters_and_words_say_the_same():
    async with driven() as on:
        await on.press("5", "h")
        assert "2019Q1 to 2024Q4 · 2 of 3 implants were a signal" in on.text
        row = next(line for line in on.lines if line[1:].startswith("KF-017"))
        assert "2024Q3" in row
        assert "seen again" in row
        assert "--....................##" in row
        assert "# signal" in on.text
        assert "first seen in 2024Q3, 5.5 years after its first use here" in " ".join(on.text.split())
        await on.press("down")
        assert "not seen now, last in 2020Q2" in " ".join(on.text.split())
        assert "A signal starts a review and shows no cause" in on.text
        await on.press("k")
        assert "constructs" in str(on.asked("history")[-1])
        asked = len(on.asked("signals"))
        on.desk.remember_history()
        await on.press("escape")
        assert "A signal starts a review and shows no cause." in on.text
        assert len(on.asked("signals")) > asked  # what was replayed stands in the list from now on


async def test_every_column_is_reached_at_80_columns():
    async with driven() as on:
        await on.press("5", "h")
        seen = on.lines[4]
        await on.press(*["right"] * 8)
        for title in ("role", "first seen", "years", "now", "quarters"):
            assert title in seen, seen
        for title in ("class", "revised then", "of joints"):
            assert title in on.text


async def test_progress_is_told_and_the_replay_is_cancelled_by_a_key():
    desk = FakeDesk()
    desk.slow.add("5")  # the fifth quarter takes long
    async with driven(desk=desk) as on:
        await on.press("5")
        await on.pilot.press("h")
        await on.until(lambda: "5" in desk.thinking and "replaying quarter 5 of 24 · Ctrl+X cancels" in on.text)
        await on.pilot.press("ctrl+x")
        await on.until(lambda: "Cancelled. r asks again." in on.text)
        assert ("quarter", 6) not in desk.asked
        desk.slow.clear()
        await on.press("r")
        assert "2 of 3 implants were a signal" in on.text


async def test_the_page_of_an_implant_leads_to_its_own_quarters():
    async with driven() as on:
        await on.press("5", "down", "enter", "h")
        assert on.text.splitlines()[0].startswith(" 5 IMPLANTS › KT-017 › history")
        assert "KT-017, tibial, total" in on.text
        assert any(line.startswith("▸KT-017") for line in on.lines)
