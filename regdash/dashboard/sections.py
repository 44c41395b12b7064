"""
The lists of the place on data quality: what each asks a desk, how its answer is laid out, and where Enter leads.
A list knows nothing of the screen that it stands on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar

from regdash.cohort import Cohort
from regdash.dashboard.widgets.grid import Column, Row

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions

Table = tuple[Sequence[Column], list[Row]]
HOSPITAL = "hospital"  # what Enter opens where a row is a hospital's
GROUPINGS: tuple[tuple[str, ...], ...] = (("hospital",), ("year",), ("hospital", "year"))


@dataclass(frozen=True)
class Opens:
    """What a row is of: the hospital that Enter opens, if any, and what its cells have no room for."""

    label: str
    hospital: str | None = None
    note: str | None = None


class Section:
    """One list of the place: `words` are the keys of the filter that it follows, `grouped` whether g changes it."""

    name: ClassVar[str]
    about: ClassVar[str]
    words: ClassVar[tuple[str, ...]] = ("hospital",)
    grouped: ClassVar[bool] = False
    groupings: ClassVar[tuple[tuple[str, ...], ...]] = GROUPINGS  # that g goes through, where it changes the list
    enter: ClassVar[str] = HOSPITAL
    empty: ClassVar[str] = "none"
    exports: ClassVar[str] = ""  # what the audit trail calls its rows, where they are of single records

    def ask(self, desk: Questions, cohort: Cohort, by: tuple[str, ...]) -> Any:
        """Ask a desk; runs on a thread of its own."""
        raise NotImplementedError

    def table(self, report: Any, width: int) -> Table:
        """Lay the answer out for a width; a row's value is the rule or the hospital that Enter opens."""
        raise NotImplementedError

    def counts(self, report: Any) -> str:
        """Say in a line what the answer is about."""
        return self.about

    def sentence(self, report: Any, row: Row | None, chosen: int) -> str:
        """Say what the row under the cursor, or its chosen column, cannot; else the first caution."""
        if row is not None and isinstance(row.value, Opens) and row.value.note:
            return row.value.note
        return report.head.cautions[0] if report.head.cautions else ""

    def command(self, cohort: Cohort, by: tuple[str, ...], row: Row | None) -> str:
        """The same question at the command line."""
        raise NotImplementedError

    def followed(self, cohort: Cohort) -> Cohort:
        """Keep the words of a filter that this list follows."""
        return Cohort(tuple(c for c in cohort.conditions if c.key in self.words))

    def not_followed(self, cohort: Cohort) -> tuple[str, ...]:
        """Name the others."""
        return tuple(str(c) for c in cohort.conditions if c.key not in self.words)
