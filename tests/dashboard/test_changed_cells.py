"""Only changed cells are written, and the terminal then shows what it would show had everything been written."""

import inspect

import pyte
import pytest
from rich.cells import set_cell_size
from rich.console import Console
from rich.segment import Segment
from rich.style import Style
from textual._compositor import ChopsUpdate, LayoutUpdate
from textual.app import App
from textual.geometry import Region, Size
from textual.screen import Screen
from textual.strip import Strip

from regdash.dashboard.app import Dashboard
from regdash.dashboard.changed_cells import ChangedCells
from tests.dashboard.driving import driven

WALK = (
    "down",
    "right_square_bracket",
    "left_square_bracket",
    "v",
    "slash",
    "a",
    "escape",
    "x",
    "escape",
    "3",
    "4",
    "5",
)


def shown(screen: pyte.Screen) -> list[list[tuple]]:
    """Signs with their paint; a blank has its background and what is seen on blanks alone."""
    rows = []
    for y in range(screen.lines):
        cells = [screen.buffer[y][x] for x in range(screen.columns)]
        rows.append(
            [(c.data, c.bg, c.reverse, c.underscore, *((c.fg, c.bold) if c.data != " " else ())) for c in cells]
        )
    return rows


def painted(sequence: str, screen: pyte.Screen) -> pyte.Screen:
    pyte.Stream(screen).feed(sequence)
    return screen


async def test_a_walk_through_places_shows_the_same_with_a_fraction_of_the_bytes():
    size = Size(80, 24)
    console = Console(color_system="truecolor", force_terminal=True)
    cells, kept = ChangedCells(), pyte.Screen(*size)
    few = many = 0
    async with driven(size=(80, 24)) as driver:
        for key in WALK:
            await driver.press(key)
            compositor = driver.app.screen._compositor
            sequence = cells.written(compositor.render_full_update(), size, console)
            whole = "".join(
                f"\x1b[{y};1H{strip.render(console)}" for y, strip in enumerate(compositor.render_strips(), 1)
            )
            assert shown(painted(sequence, kept)) == shown(painted(whole, pyte.Screen(*size))), key
            assert kept.display == [f"{line:<80}" for line in driver.lines], key
            few, many = few + len(sequence), many + len(whole)
            assert not cells.written(compositor.render_full_update(), size, console), "nothing has changed"
    assert few < many / 2


def test_a_sign_of_two_columns_is_never_cut():
    console, size = Console(color_system="standard", force_terminal=True), Size(12, 1)
    cells, screen = ChangedCells(), pyte.Screen(*size)
    for text in ("ab日本c", "ab日木c", "abx本c", "a日e\u0301 本d", ""):
        text = set_cell_size(text, 12)
        strip = Strip([Segment(text, Style(bold=True))])
        sequence = cells.written(LayoutUpdate([[strip]], Region(0, 0, *size)), size, console)
        whole = painted(f"\x1b[1;1H{text}", pyte.Screen(*size))
        assert painted(sequence, screen).display == whole.display


def test_another_size_or_a_garbled_screen_is_written_whole():
    console = Console(color_system="standard", force_terminal=True)
    cells, strip = ChangedCells(), Strip([Segment("figures", None)])
    update = LayoutUpdate([[strip]], Region(0, 0, 7, 1))
    whole = cells.written(update, Size(7, 1), console)
    assert "figures" in whole
    assert not cells.written(update, Size(7, 1), console)
    cells.forget()
    assert cells.written(update, Size(7, 1), console) == whole
    assert "figures" in cells.written(update, Size(9, 2), console)


async def test_every_update_of_the_library_still_comes_by_and_can_be_taken_apart(monkeypatch: pytest.MonkeyPatch):
    """Textual has no public way to see an update, so that a release may take this one away."""
    trouble = "Textual paints in another way now. Look at Dashboard._display and at changed_cells.py. "
    assert list(inspect.signature(App._display).parameters) == ["self", "screen", "renderable"], trouble
    for kind, parts in ((LayoutUpdate, ["strips", "region"]), (ChopsUpdate, ["chops", "spans", "chop_ends"])):
        assert list(inspect.signature(kind).parameters) == parts, trouble
    came: list[object] = []
    display = Dashboard._display

    def seen(app: Dashboard, screen: Screen, update: object) -> None:
        came.append(update)
        display(app, screen, update)

    monkeypatch.setattr(Dashboard, "_display", seen)
    async with driven(size=(80, 24)) as driver:
        await driver.press("down", "slash", "escape")
    kinds = {type(update) for update in came if update is not None}
    assert kinds == {LayoutUpdate, ChopsUpdate}, trouble + f"Updates of these kinds came: {kinds}"
