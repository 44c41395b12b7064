"""Changing the question: which joints, under which name, grouped how, up to when, in which view, of which endpoint."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar

from textual import work
from textual.message import Message

from regdash.dashboard.asked import Asked
from regdash.dashboard.screens.choices import AdjustPrompt, GroupingPrompt, HorizonPrompt
from regdash.dashboard.screens.endpoint_prompt import EndpointPrompt
from regdash.dashboard.screens.filter_prompt import FilterPrompt
from regdash.dashboard.written_out import WritingOut
from regdash.errors import RegdashError

if TYPE_CHECKING:
    from regdash.cohort import Cohort
    from regdash.dashboard.questions import Questions
    from regdash.dashboard.screens.named_prompt import Wanted
    from regdash.grouping import Grouping


class Choosing(WritingOut):
    """A screen whose question can be changed; what is chosen in one place holds in all of them."""

    SIDE_BY_SIDE: ClassVar[bool] = False  # whether two cohorts can stand side by side here

    class NameKept(Message):
        """A name was saved or removed, or could not be."""

        def __init__(self, said: str) -> None:
            super().__init__()
            self.said = said

    def change(self, asked: Asked) -> None:
        """Ask something else, here and everywhere."""
        if self.dashboard.history.change(asked):
            self.say_where()
            self.ask_if_changed()

    async def action_filter(self) -> None:
        """Edit the filter."""
        if self.dashboard.desk is None:
            return

        def done(cohort: Cohort | None) -> None:
            if cohort is not None:
                self.change(replace(self.dashboard.history.now, cohort=cohort))

        await self.app.push_screen(FilterPrompt(self.dashboard.desk, self.dashboard.history.now.cohort), done)

    @property
    def follows_beside(self) -> bool:
        """Whether two cohorts stand side by side here; what was opened from one of them is of that one."""
        return self.SIDE_BY_SIDE and not getattr(self, "trail", ())

    async def action_beside(self) -> None:
        """Put a second cohort beside the filter's, or take it away."""
        from regdash.dashboard.screens.beside_prompt import BesidePrompt

        if self.dashboard.desk is None:
            return
        if not self.follows_beside:
            self.say("Two cohorts stand side by side at 2 risk and 3 reasons.")
            return

        def done(beside: Cohort | None) -> None:
            if beside is not None:
                self.change(replace(self.dashboard.history.now, beside=beside if beside.conditions else None))

        await self.app.push_screen(BesidePrompt(self.dashboard.desk, self.dashboard.history.now), done)

    async def action_named(self) -> None:
        """Look at a cohort that has a name, or give the present one a name."""
        from regdash.dashboard.screens.named_prompt import NamedPrompt

        desk = self.dashboard.desk
        if desk is None:
            return

        def done(wanted: Wanted | None) -> None:
            if wanted is not None and wanted.cohort is not None:
                self.change(replace(self.dashboard.history.now, cohort=wanted.cohort))
            elif wanted is not None and wanted.keep is not None:
                self._keep_name(desk, wanted.keep)

        await self.app.push_screen(NamedPrompt(desk, self.dashboard.history.now.cohort), done)

    @work(thread=True, group="names")
    def _keep_name(self, desk: Questions, keep: Callable[[Questions], str]) -> None:
        """Save or remove a name off the event loop: others may be writing just now."""
        try:
            said = keep(desk)
        except RegdashError as refusal:
            said = str(refusal)
        self.post_message(self.NameKept(said))

    def on_choosing_name_kept(self, message: NameKept) -> None:
        """Say what became of a name."""
        self.say(message.said)

    async def action_group(self) -> None:
        """Choose how joints are grouped."""

        def done(by: tuple[Grouping, ...] | None) -> None:
            if by is not None:
                self.change(replace(self.dashboard.history.now, by=by, beside=None))

        await self.app.push_screen(GroupingPrompt(), done)

    async def action_horizon(self) -> None:
        """Choose up to how many years."""

        def done(years: float | None) -> None:
            if years is not None:
                self.change(replace(self.dashboard.history.now, years=years))

        await self.app.push_screen(HorizonPrompt(), done)

    async def ask_adjustment(self) -> None:
        """Choose what is held alike; for places that compare."""

        def done(adjust: tuple[Grouping, ...] | None) -> None:
            if adjust is not None:
                self.change(replace(self.dashboard.history.now, adjust=adjust))

        await self.app.push_screen(AdjustPrompt(), done)

    def action_view(self) -> None:
        """Change between the implant's and the patient's view."""
        self.change(self.dashboard.history.now.other_view)

    async def action_endpoint(self) -> None:
        """Choose what counts as a revision, and on which clock."""

        def done(endpoint: str | None) -> None:
            if endpoint is not None:
                self.change(replace(self.dashboard.history.now, endpoint=endpoint))

        await self.app.push_screen(EndpointPrompt(), done)
