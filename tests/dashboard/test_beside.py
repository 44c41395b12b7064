"""Two cohorts side by side by keys: both are groups, each opens as itself, and undo takes the second away."""

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
