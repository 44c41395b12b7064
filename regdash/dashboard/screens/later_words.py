"""A filter that also takes words on what happened after implantation: these are of one place alone."""

from __future__ import annotations

from dataclasses import replace
from typing import ClassVar

from regdash.cohort import Cohort, parse
from regdash.dashboard.place import Place
from regdash.dashboard.screens.filter_prompt import FilterPrompt


class LaterWords(Place):
    """A place that is also chosen by what happened later, and keeps those words to itself."""

    LISTS: ClassVar[str] = "joints"  # what the way here ends in once other words are chosen

    async def action_filter(self) -> None:
        """Edit the filter; words on what happened later are of this place alone, all others hold everywhere."""
        desk, now = self.dashboard.desk, self.dashboard.history.now
        if desk is None:
            return
        later = tuple(word for word in self.within if _is_later(word))

        def done(cohort: Cohort | None) -> None:
            if cohort is not None:
                self._choose(cohort, later)

        await self.app.push_screen(FilterPrompt(desk, now.cohort.narrowed(*later), outcomes=True), done)

    def _choose(self, cohort: Cohort, before: tuple[str, ...]) -> None:
        """Keep the words on what happened later here, and ask with the others everywhere."""
        later = tuple(word for word in cohort.words if _is_later(word))
        if later != before:
            self.within = (*(word for word in self.within if not _is_later(word)), *later)
            self.trail = (*self.trail[:-1], self.LISTS) if self.trail else ()
        known = Cohort(tuple(one for one in cohort.conditions if not one.field.outcome))
        self.dashboard.history.change(replace(self.dashboard.history.now, cohort=known))
        self.say_where()
        self.ask_if_changed()


def _is_later(word: str) -> bool:
    """Whether a filter word is on what happened after implantation."""
    return bool(parse((word,), outcomes=True).outcome_keys)
