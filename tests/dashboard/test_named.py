"""Named cohorts by keys: looked at, saved, removed, and written as @name in the filter."""

from tests.dashboard.driving import driven


async def test_a_name_is_chosen_and_undone_like_any_filter():
    async with driven() as on:
        before = on.lines[1]
        await on.press("n")
        assert "joint=knee sex=male age=..54" in on.text
        await on.type("young-men")
        await on.press("enter")
        assert "joint=knee sex=male age=..54" in on.lines[1]
        await on.press("u")
        assert on.lines[1] == before


async def test_the_present_filter_is_saved_under_a_name_and_the_name_removed():
    async with driven() as on:
        await on.press("slash")
        await on.type("class=partial ")
        await on.press("enter", "n")
        await on.type("save partials")
        await on.press("enter")
        assert on.desk.named["partials"] == "class=partial"
        assert "Saved: @partials stands for class=partial" in on.text
        await on.press("n")
        await on.type("remove partials")
        await on.press("enter")
        assert "partials" not in on.desk.named


async def test_a_name_that_nobody_has_is_refused_with_the_nearest():
    async with driven() as on:
        await on.press("n")
        await on.type("yung-men")
        await on.press("enter")
        assert "No cohort is named yung-men. Nearest: young-men." in on.text


async def test_the_filter_completes_names_and_prints_their_words():
    async with driven() as on:
        await on.press("slash")
        await on.type("@y")
        await on.press("tab")
        assert "reads as: joint=knee sex=male age=..54" in on.text
        await on.press("enter")
        assert "joint=knee sex=male age=..54" in on.lines[1]


async def test_an_explanation_says_the_statements_and_the_command_of_every_place():
    async with driven() as on:
        for keys in ("1", "2", "2 enter", "2 enter enter", "4", "5", "6", "7"):
            await on.press(*keys.split(), "x")
            said = dict(on.app.screen._paragraphs)
            assert {"what it is", "cohort", "counts", "formula and source", "SQL"} <= set(said), keys
            assert said["command"].startswith("regdash "), keys
            await on.press("escape", *["escape"] * (len(keys.split()) - 1))
