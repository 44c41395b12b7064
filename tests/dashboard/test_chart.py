"""A chart is drawn when it is new or has another size, and going back to one that was shown draws nothing."""

from rich.text import Text
from textual.app import App, ComposeResult

from regdash.dashboard.widgets.chart import MOST_KEPT, Chart


class Alone(App[None]):
    """One chart and nothing else."""

    def compose(self) -> ComposeResult:
        yield Chart()


async def test_what_was_shown_lately_is_not_drawn_again() -> None:
    app, drawn = Alone(), []

    def drawing(key: int):
        return lambda width, height: drawn.append((key, width, height)) or Text(f"chart {key}")

    async with app.run_test(size=(80, 24)) as pilot:
        chart = app.query_one(Chart)
        for key in (1, 2, 1, 2, 2):
            chart.show(key, drawing(key))
            await pilot.pause()
            assert str(chart.render()) == f"chart {key}"
        assert drawn == [(1, 80, 24), (2, 80, 24)]
        await pilot.resize_terminal(100, 30)
        assert (2, 100, 30) in drawn
        for key in range(3, 3 + MOST_KEPT):
            chart.show(key, drawing(key))
            await pilot.pause()
        chart.show(1, drawing(1))
        await pilot.pause()
        assert drawn[-1] == (1, 100, 30)
