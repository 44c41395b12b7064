"""The list widget: only what is in view is formatted, nothing is half shown, missing values stand last."""

from rich.text import Text
from textual.app import App, ComposeResult

from regdash.dashboard.widgets.grid import Column, Grid, Row

COLUMNS = (
    Column("name", "name", left=True),
    Column("count", "count"),
    Column("limits", left=True, width=14),
    Column("more", "more", width=12),
)


def row(name: str, count: int | None) -> Row:
    return Row((name, "–" if count is None else str(count), "0.50 to 1.50", "x"), name, (name, count, None, name))


class Alone(App[None]):
    """A list and nothing else."""

    def compose(self) -> ComposeResult:
        yield Grid(empty="nobody")

    @property
    def grid(self) -> Grid:
        return self.query_one(Grid)

    @property
    def lines(self) -> list[str]:
        return [strip.text for strip in self.screen._compositor.render_strips()]


async def test_only_rows_in_view_are_asked_for():
    asked: set[int] = set()

    class Million:
        def __len__(self) -> int:
            return 1_000_000

        def __getitem__(self, index: int) -> Row:
            asked.add(index)
            return row(f"J{index}", index)

    app = Alone()
    async with app.run_test(size=(60, 20)) as pilot:
        app.grid.show(COLUMNS, Million())
        await pilot.pause()
        asked.clear()
        await pilot.press("end")
        await pilot.pause()
        assert any("J999999" in line for line in app.lines)  # wider than the first rows
        assert not any("…" in line for line in app.lines)
        assert min(asked - {0}) > 999_900


async def test_a_row_that_is_not_there_yet_shows_dots_and_cannot_be_opened():
    app = Alone()
    async with app.run_test(size=(60, 6)) as pilot:
        rows = {0: row("first", 1)}

        class Partly:
            def __len__(self) -> int:
                return 3

            def __getitem__(self, index: int) -> Row | None:
                return rows.get(index)

        app.grid.show(COLUMNS, Partly())
        await pilot.press("down")
        await pilot.pause()
        assert app.lines[2].strip() == "▸…"
        assert app.grid.current is None


async def test_a_column_that_would_be_cut_is_left_out_and_its_absence_shown():
    app = Alone()
    async with app.run_test(size=(30, 6)) as pilot:
        app.grid.show(COLUMNS, [row("first", 1)])
        await pilot.pause()
        assert "1.50" in app.lines[1]
        assert "more" not in app.lines[0]
        assert app.lines[0].rstrip().endswith("›")
        await pilot.press("right", "right", "right")
        await pilot.pause()
        assert "more" in app.lines[0]
        assert app.lines[1].startswith("▸first")  # the first column stays


async def test_what_has_no_value_stands_last_in_either_order():
    app = Alone()
    async with app.run_test(size=(60, 8)) as pilot:
        app.grid.show(COLUMNS, [row("none", None), row("two", 2), row("nine", 9)])
        app.grid.chosen = 1
        for names in (["nine", "two", "none"], ["two", "nine", "none"]):
            assert app.grid.order_by_chosen()
            await pilot.pause()
            assert [line[1:6].strip() for line in app.lines[1:4]] == names


async def test_the_cursor_stays_on_its_row_when_the_list_is_shown_anew():
    app = Alone()
    async with app.run_test(size=(60, 8)) as pilot:
        app.grid.show(COLUMNS, [row("one", 1), row("two", 2), row("three", 3)])
        await pilot.press("down")
        app.grid.show(COLUMNS, [row("zero", 0), row("one", 1), row("two", 2)])
        await pilot.pause()
        assert app.grid.current.value == "two"
        app.grid.show(COLUMNS, [row("zero", 0)])
        assert app.grid.current.value == "zero"


async def test_an_empty_list_says_so():
    app = Alone()
    async with app.run_test(size=(60, 8)) as pilot:
        app.grid.show(COLUMNS, [])
        await pilot.pause()
        assert app.lines[1].strip() == "nobody"
        await pilot.press("down", "enter", "end")
        assert app.grid.current is None


async def test_brackets_in_data_are_letters_and_no_markup():
    app = Alone()
    async with app.run_test(size=(60, 8)) as pilot:
        app.grid.show(COLUMNS[:1], [Row(("[red]H012[/] [A&E]",), 1, ("x",)), Row((Text("[b]"),), 2, ("y",))])
        await pilot.pause()
        assert "[red]H012[/] [A&E]" in app.lines[1]
        assert "[b]" in app.lines[2]
