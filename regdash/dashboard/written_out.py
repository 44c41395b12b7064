"""Writing out what a place shows: its list, its figures, its chart or the command, to the clipboard or to a file."""

from __future__ import annotations

from importlib import import_module
from pkgutil import iter_modules
from typing import TYPE_CHECKING, Any, ClassVar

from textual import work
from textual.message import Message

from regdash.dashboard import writing
from regdash.dashboard.asking import Asking
from regdash.dashboard.screens.write_prompt import CHART, COMMAND, CSV, TABLE, WritePrompt, Written
from regdash.dashboard.widgets.chart import Chart
from regdash.dashboard.widgets.grid import Grid
from regdash.dashboard.widgets.line import Line
from regdash.errors import RegdashError, WriteError

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions
    from regdash.output.listing import Listing

MOST_COPIED = 74_000  # bytes: terminals take some 100,000 of an escape sequence, and these grow by a third


class WritingOut(Asking):
    """A screen whose answer can be written out."""

    EXPORTS: ClassVar[str] = ""  # what the audit trail calls rows of single joints or records that leave

    class WrittenOut(Message):
        """Something was written out, or could not be."""

        def __init__(self, said: str) -> None:
            super().__init__()
            self.said = said

    def command(self) -> str:
        """The same question at the command line."""
        raise NotImplementedError

    def figures(self, desk: Questions) -> Any:
        """The answer whose figures are written as CSV; runs on a thread. What has no such form, its list stands for."""
        return self.answer

    @property
    def exported(self) -> str:
        """What the audit trail calls the rows that are written out; empty where they are of no single joints."""
        return self.EXPORTS

    def export_facts(self) -> dict[str, str]:
        """What the audit trail says of them beside that."""
        return {}

    def cautions(self) -> tuple[str, ...]:
        """What the answer warns of."""
        return tuple(getattr(getattr(self.answer, "head", None), "cautions", ()))

    def heading(self) -> list[str]:
        """Say above a copy what was asked, of which joints, on which cut."""
        desk, head = self.dashboard.desk, getattr(self.answer, "head", None)
        measure, endpoint = getattr(head, "measure", ""), getattr(head, "endpoint", "")
        cut = f"data cut {desk.manifest.cut}" if desk else ""
        question = " ".join(self.query_one("#filter", Line).text.split())
        what = f"{measure}; endpoint: {endpoint}" if endpoint else measure
        said = [what, question, self.query_one("#counts", Line).left.strip(), cut, self.command()]
        return [*filter(None, said), ""]

    async def action_write(self) -> None:
        """Ask what is written out and where to, and do it."""
        desk = self.dashboard.desk
        if self.answer is None or desk is None:
            return
        there = {COMMAND: True, TABLE: self._list is not None, CSV: True, CHART: bool(self._charts)}
        stem = f"{self.app.current_mode}-{desk.manifest.cut}"

        def done(written: Written | None) -> None:
            if written is not None:
                self._begin(desk, written)

        await self.app.push_screen(
            WritePrompt([what for what, is_ in there.items() if is_], stem, self.command()), done
        )

    def _begin(self, desk: Questions, written: Written) -> None:
        """Take what is on the screen now; figures that are asked for anew, files and the trail have a thread."""
        try:
            listing = writing.listed(self._list) if written.what == CSV and self._list is not None else None
        except WriteError:
            listing = None  # it is fetched as it comes into view, and then its figures stand for it
        try:
            text = "" if written.what == CSV else self._text(written.what)
            self._write(desk, written, text, listing, len(self._list.rows) if self._list is not None else 0)
        except WriteError as refusal:
            self.say(str(refusal))

    @property
    def _list(self) -> Grid | None:
        """The list with the cursor; else the first that is shown."""
        if isinstance(self.focused, Grid):
            return self.focused
        return next((grid for grid in self.query(Grid) if grid.display and grid.columns), None)

    @property
    def _charts(self) -> list[Chart]:
        return [chart for chart in self.query(Chart) if chart.display and chart.size.height and chart.render().plain]

    @work(thread=True, group="write")
    def _write(self, desk: Questions, written: Written, text: str, listing: Listing | None, rows: int) -> None:
        try:
            if written.what == CSV:
                text, rows = _csv(self.figures(desk), listing)
            size = len(text.encode())
            if written.path is None and size > MOST_COPIED:
                raise WriteError(
                    f"{size:,} bytes are too many for a terminal's clipboard. Name a file behind the word."
                )
            more = ""
            if self.exported and written.what in (CSV, TABLE):
                form = f"{written.what} {'copied' if written.path is None else 'file'}"
                more = desk.note_export(self.exported, rows, form, **self.export_facts()) or ""
            if written.path is None:
                self.app.call_from_thread(self.app.copy_to_clipboard, text)
                said = f"Sent to the clipboard of the terminal, which may not take it: {written.what}."
            else:
                writing.save(written.path, text)
                said = f"Written: {written.path}"
            self.post_message(self.WrittenOut(f"{more} {said}".strip()))
        except RegdashError as refusal:
            self.post_message(self.WrittenOut(str(refusal)))

    def _text(self, what: str) -> str:
        """The command, the list or the charts, with what was asked above."""
        if what == COMMAND:
            return self.command()
        if what == CHART:
            lines = [line for chart in self._charts for line in writing.chart_as_text(chart)]
        else:
            assert self._list is not None
            lines = writing.list_as_text(self._list)
        cautions = [f"- {caution}" for caution in self.cautions()]
        return "\n".join([*self.heading(), *lines, *(["", *cautions] if cautions else []), ""])

    def on_writing_out_written_out(self, message: WrittenOut) -> None:
        """Say what became of it."""
        self.say(message.said)

    def say(self, sentence: str = "") -> None:
        """Write one sentence."""
        raise NotImplementedError


def _csv(figures: Any, listing: Listing | None) -> tuple[str, int]:
    """Write figures as the command line does with --csv, or a list where they have no such form; and count the rows."""
    from regdash.output.machine import as_csv
    from regdash.output.record import record_of

    _make_known()
    if record_of.dispatch(type(figures)) is record_of.dispatch(object):
        if listing is None:
            raise WriteError("There are no figures here that could be written as CSV.")
        figures = listing
    return as_csv(figures), len(record_of(figures).rows)


def _make_known() -> None:
    """Make the forms of all answers known to `record_of`: each module of the output makes its own known."""
    import regdash.output

    for module in iter_modules(regdash.output.__path__):
        import_module(f"regdash.output.{module.name}")
