"""Two cohorts side by side by keys: both are groups, each opens as itself, and undo takes the second away."""

import pytest

from tests.dashboard.driving import Driver, driven


async def put_beside(on: Driver) -> None:
    await on.press("slash")
    await on.type("class=partial ")
    await on.press("enter", "b")
    await on.type("sex=male ")
    await on.press("enter")


async def test_a_second_cohort_stands_beside_the_filter_and_is_undone():
    async with driven() as on:
        await put_beside(on)
        assert "class=partial  beside it with sex=male" in on.lines[1]
        assert len(on.app.place.answer.groups) == 2
        assert "--beside 'class=partial sex=male'" in on.app.place.command()
        await on.press("u")
        assert "beside" not in on.lines[1]
        assert on.app.place.asked.beside is None


async def test_what_is_opened_from_the_second_is_of_the_second():
    async with driven() as on:
        await put_beside(on)
        await on.press("enter")
        assert str(on.app.place.question.cohort) == "class=partial"
        await on.press("escape", "down", "enter")
        assert str(on.app.place.question.cohort) == "class=partial sex=male"
        await on.press("enter")
        assert "class=partial sex=male ended=revised" in str(on.app.place.question.cohort)


async def test_places_that_cannot_show_two_say_where_they_stand():
    async with driven() as on:
        await put_beside(on)
        await on.press("4")
        assert "beside" not in on.lines[1]
        await on.press("b")
        assert "side by side at 2 risk and 3 reasons" in on.text


async def test_the_filter_itself_cannot_stand_beside_itself():
    async with driven() as on:
        await put_beside(on)
        await on.press("b", *["backspace"] * len("sex=male "), "enter")
        assert "That is the filter itself" in on.text
        await on.press("escape")
        assert on.app.place.asked.beside is not None


async def test_grouping_takes_the_second_cohort_away():
    async with driven() as on:
        await put_beside(on)
        await on.press("g")
        await on.type("age")
        await on.press("enter")
        assert on.app.place.asked.beside is None
        assert "by age" in on.lines[1]


@pytest.mark.slow  # every place
async def test_places_of_one_cohort_say_that_the_second_is_not_used():
    async with driven() as on:
        await put_beside(on)
        for place in ("1", "4", "5", "6"):
            await on.press(place)
            assert "class=partial  second" in on.lines[1]
            assert "not used" in on.lines[1]
        await on.press("4", "c")
        assert "class=partial  second not used" in on.lines[1]
        await on.press("escape", "3")
        assert "not used" not in on.lines[1]
        await on.press("2", "enter")  # the reasons of the first cohort are of it alone
        assert "not used" not in on.lines[1]


async def test_a_long_filter_gives_way_to_what_tells_the_second_cohort():
    async with driven("joint=knee class=partial bearing=mobile sex=male diagnosis=osteoarthritis") as on:
        await on.press("b", "ctrl+u")
        await on.type("joint=knee class=partial bearing=mobile sex=male age=..64 ")
        await on.press("enter")
        assert on.app.place.question.beside is not None, on.text
        for place in ("2", "3"):
            await on.press(place)
            assert on.lines[1].rstrip().endswith("…  beside it age=..64 for diagnosis=osteoarthritis")
            assert on.lines[1].startswith(" filter  joint=knee class")
