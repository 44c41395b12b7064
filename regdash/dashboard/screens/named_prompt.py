"""Cohorts that have a name: looking at one, saving the present filter under a name, taking a name away."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from regdash import cohort as filters
from regdash.dashboard.widgets.prompt import Candidate, Prompt
from regdash.errors import FilterError, RegdashError
from regdash.suggest import nearest

if TYPE_CHECKING:
    from regdash.cohort import Cohort
    from regdash.dashboard.questions import Questions

SAVE, REMOVE = "save", "remove"


@dataclass(frozen=True)
class Wanted:
    """What is wanted of a name: to look at its cohort, or to have a name saved or removed."""

    name: str
    cohort: Cohort | None = None
    keep: Callable[[Questions], str] | None = None  # does it, and says what was done


class NamedPrompt(Prompt[Wanted]):
    """Ask for a name; `save` and `remove` before it change what has one."""

    heading = "named cohorts"
    takes_on_enter = False

    def __init__(self, desk: Questions, present: Cohort) -> None:
        super().__init__()
        self._present, self._known = present, desk.known
        self._named: Mapping[str, str] = {}
        self._fault = ""
        try:
            self._named = desk.named
        except RegdashError as fault:  # the office file cannot be read
            self._fault = str(fault)

    def on_mount(self) -> None:
        """List the names."""
        super().on_mount()
        self.say(self._fault or self.remark(self.text))

    def candidates(self, text: str) -> Sequence[Candidate]:
        """List names with their filter words, and what else can be done."""
        act, _, rest = text.lstrip().partition(" ")
        if act == SAVE:
            # What a name is for may follow it; a name in use would stand for something else.
            return [
                Candidate(f"{SAVE} {n}", n, f"now {words}") for n, words in self._named.items() if n.startswith(rest)
            ]
        before, typed = (f"{REMOVE} ", rest) if act == REMOVE else ("", text.lstrip().removeprefix(filters.NAME_SIGN))
        found = [Candidate(before + name, name, words) for name, words in self._named.items() if name.startswith(typed)]
        if before:
            return found
        present = str(self._present)
        if present and SAVE.startswith(typed):
            found.append(Candidate(f"{SAVE} ", f"{SAVE} NAME", f"gives the present filter a name: {present}"))
        if self._named and REMOVE.startswith(typed):
            found.append(Candidate(f"{REMOVE} ", f"{REMOVE} NAME", "takes a name away; its lines stay in the history"))
        return found

    def remark(self, text: str) -> str:
        """Say what Enter would do."""
        act, _, rest = text.strip().partition(" ")
        name, _, note = rest.strip().partition(" ")
        if act == SAVE and name:
            replaced = self._named.get(name.removeprefix(filters.NAME_SIGN).lower())
            says = f"{name} will stand for: {str(self._present) or 'nothing, as no filter is set'}"
            return says + (f"; so far: {replaced}" if replaced else "") + (f"; note: {note}" if note else "")
        if text.strip():
            return ""
        return "Type a name, or save NAME, remove NAME." if self._named else "No cohort has a name yet. Type: save NAME"

    def finish(self, text: str) -> Wanted:
        """Read what is wanted; the words of a name must still hold on this data cut."""
        act, _, rest = text.strip().partition(" ")
        name, _, note = rest.strip().partition(" ")
        name = name.removeprefix(filters.NAME_SIGN).lower()
        if act == SAVE:
            return self._saved(name, note.strip())
        if act == REMOVE:
            self._refuse_unknown(name)
            return Wanted(name, keep=lambda desk: f"@{desk.remove_cohort(name)} is removed. n lists what is left.")
        name = text.strip().removeprefix(filters.NAME_SIGN).lower()
        self._refuse_unknown(name)
        return Wanted(name, filters.parse([filters.NAME_SIGN + name], known=self._known, named=self._named))

    def _saved(self, name: str, note: str) -> Wanted:
        present = self._present
        if not name:
            raise FilterError("Write the name too, as in: save young-men")
        if not present.conditions:
            raise FilterError("No filter is set, so there is nothing to name. Escape, then / sets one.")
        return Wanted(name, keep=lambda desk: f"Saved: @{desk.save_cohort(name, present, note)} stands for {present}")

    def _refuse_unknown(self, name: str) -> None:
        if name not in self._named:
            said = nearest(name, self._named) if self._named else "Nobody has saved any; type: save NAME"
            raise FilterError(f"No cohort is named {name or 'so'}. {said}")
