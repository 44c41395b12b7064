"""u and U on every place, and on what is opened from it: the question goes back and forth, and the figures with it."""

from dataclasses import replace

from regdash import cohort, grouping
from tests.dashboard.driving import Driver, driven

PAGES = {
    "register": "1",
    "joints of a reason": "2 enter enter",
    "difference": "3 d",
    "compare": "4",
    "implants": "5",
    "an implant": "5 enter",
    "a unit": "6 enter",
    "quality": "7",
}


async def change(on: Driver, **what: object) -> None:
    """Ask something else, as its prompt does."""
    on.app.place.change(replace(on.app.history.now, **what))
    await on.settled()


async def test_a_filter_is_undone_and_redone_wherever_it_was_set():
    async with driven() as on:
        for page, keys in PAGES.items():
            await on.press(*keys.split())
            place = on.app.place
            first = place.asked
            await change(on, cohort=cohort.parse("sex=female"))
            second = place.asked
            assert second != first, page
            assert "sex=female" in on.lines[1], page
            await on.press("u")
            assert place.asked == first, page
            assert "sex=female" not in on.lines[1], page
            await on.press("U")
            assert place.asked == second, page
            await on.press("u", *["escape"] * (len(keys.split()) - 1))


async def test_every_part_of_the_question_is_undone_one_by_one():
    async with driven() as on:
        first = on.app.history.now
        parts = (
            ("cohort", cohort.parse("sex=male")),
            ("by", grouping.parse("age")),
            ("years", 5.0),
            ("view", "patient"),
            ("endpoint", "aseptic"),
        )
        seen = [first]
        for name, value in parts:
            await change(on, **{name: value})
            seen.append(on.app.history.now)
        for before in reversed(seen[:-1]):
            await on.press("u")
            assert on.app.place.asked == before
        for after in seen[1:]:
            await on.press("U")
            assert on.app.place.asked == after


async def test_where_a_change_is_not_seen_the_line_says_what_other_places_ask():
    async with driven() as on:
        await change(on, cohort=cohort.parse("sex=female"))
        await on.press("8", "u")
        assert "Nothing changes here. At other places: every joint, by class" in on.lines[-2]
        await on.press("2", "enter", "enter", "enter", "U")
        assert "Nothing changes here. At other places: sex=female" in on.lines[-2]
        await on.press("escape", "escape")
        assert on.asked("reasons")[-1] == cohort.parse("class=total sex=female")
