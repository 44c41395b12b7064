"""The room for SQL: completion, one statement, its rows, the views with their words."""

from regdash.dashboard.sql_words import candidates
from tests.dashboard.driving import driven
from tests.dashboard.fake_sql import RELATIONS


def words(text: str, at: int | None = None) -> list[str]:
    return [candidate.shown for candidate in candidates(text, len(text) if at is None else at, RELATIONS)]


def test_after_from_views_and_tables_are_listed():
    assert words("select * from ") == ["hospital_profile", "follow_up"]
    assert words("select * from f") == ["follow_up"]
    assert words("select * from follow_up join h") == ["hospital_profile"]


def test_columns_are_those_of_what_the_statement_names():
    assert words("select d from follow_up", len("select d"))[0] == "days"
    assert "primaries" not in words("select p from follow_up", len("select p"))
    assert words("select f.c from follow_up as f", len("select f.c")) == ["f.class"]
    assert words("select h.p from follow_up f join hospital_profile h on true", len("select h.p")) == ["h.primaries"]


def test_what_is_completed_keeps_the_rest_of_the_statement():
    (found,) = candidates("select f.d from follow_up f", len("select f.d"), RELATIONS)
    assert found.text == "select f.days from follow_up f"
    assert found.remark == "integer: whole days in follow-up"


def test_nothing_is_completed_in_quotes_and_remarks():
    assert words("select 'fo") == []
    assert words("select 1 -- fol") == []
    assert "follow_up" in words("select 'a', fol")


async def test_views_are_listed_with_what_a_row_is_and_enter_shows_their_columns():
    async with driven() as on:
        await on.press("9")
        assert "9 SQL" in on.lines[0]
        assert "What each hospital does" in on.at_cursor()
        await on.press("down", "enter")
        assert "class of the replacement" in on.text
        assert "one of total, partial" in on.text
        await on.press("escape")
        assert on.at_cursor().startswith("▸follow_up")


async def test_a_statement_is_completed_asked_and_its_rows_stand_in_a_list():
    async with driven() as on:
        await on.press("9", "slash")
        await on.type("select cl from fol")
        await on.press("tab")
        assert on.app.screen.text == "select cl from follow_up"
        await on.press("enter")
        assert on.asked("sql") == ["select cl from follow_up"]
        assert "select cl from follow_up" in on.lines[3]
        assert on.at_cursor().split()[:3] == ["▸total", "88120", "7.25"]
        assert "3 rows" in on.lines[2]
        await on.press("right", "o", "home")
        assert on.at_cursor().startswith("▸total")
        await on.press("o", "home", "enter")
        assert "row 3" in on.text  # as the statement gave it
        await on.press("escape", "tab")
        assert on.at_cursor().startswith("▸hospital_profile")


async def test_a_word_is_completed_where_the_cursor_stands():
    async with driven() as on:
        await on.press("9", "slash")
        await on.type("select d from follow_up")
        await on.pilot.press(*["left"] * len(" from follow_up"))
        await on.press("tab")
        await on.type(",")
        assert on.app.screen.text == "select days, from follow_up"


async def test_a_pasted_statement_keeps_its_lines():
    from textual.events import Paste

    async with driven() as on:
        await on.press("9", "slash")
        on.app.post_message(Paste("select 1 -- one\nfrom follow_up"))
        await on.settled()
        await on.press("enter")
        assert on.asked("sql") == ["select 1 -- one\nfrom follow_up"]
        await on.press("x", "end")
        assert "regdash sql 'select 1 -- one" in on.text


async def test_a_refusal_is_one_line_and_the_statement_is_mended():
    async with driven() as on:
        on.desk.refused = "Only SELECT statements can be asked, since data cuts are never changed; this is DROP."
        await on.press("9", "slash")
        await on.type("drop table follow_up")
        await on.press("enter")
        assert "this is DROP." in " ".join(on.text.split())
        on.desk.refused = None
        await on.press("slash")
        assert on.app.screen.text == "drop table follow_up"
        await on.press("escape")


async def test_a_statement_left_by_escape_is_there_again_and_the_row_cap_is_said():
    async with driven() as on:
        await on.press("9", "slash")
        await on.type("mor")
        await on.press("escape")
        assert on.asked("sql") == []
        await on.press("slash", "e")
        await on.press("enter")
        assert "the first 3 rows, and there are more" in on.lines[2]


async def test_statements_are_undone_and_redone():
    async with driven() as on:
        for text in ("one", "two"):
            await on.press("9", "slash", "ctrl+u")
            await on.type(text)
            await on.press("enter")
        await on.press("u")
        assert on.asked("sql")[-1] == "one"
        await on.press("U")
        assert on.asked("sql")[-1] == "two"
        await on.press("U")
        assert "There is no later statement." in on.text


async def test_a_running_statement_is_cancelled():
    async with driven() as on:
        on.desk.slow.add("select 1")
        await on.press("9")
        await on.pilot.press("slash", *(key if key != " " else "space" for key in "select 1"), "enter")
        await on.until(lambda: "select 1" in on.desk.thinking)
        await on.press("ctrl+x")
        assert "Cancelled. r asks again" in on.text
