"""SQL, named cohorts and requests, as a desk asks for them, and what leaves the dashboard as files or text."""

from contextlib import AbstractContextManager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from regdash.cohort import Cohort
from regdash.errors import StoreError
from regdash.store.cuts import Cut

if TYPE_CHECKING:
    from regdash.reports.statements import Relation, StatementReport
    from regdash.store.requests import Requests


class WrittenDesk:
    """Statements on one data cut, cohorts that people gave a name, and the note of what is written out of it."""

    _store: Path

    def _asking(self) -> AbstractContextManager[Cut]:
        raise NotImplementedError

    def statement(self, text: str, **limits: Any) -> "StatementReport":
        """Ask in SQL, as `statement_report`."""
        from regdash.reports.statements import statement_report

        with self._asking() as cut:
            return statement_report(cut, text, **limits)

    def relations(self) -> "tuple[Relation, ...]":
        """List what may be asked in SQL, as `statements.relations`."""
        from regdash.reports.statements import relations

        with self._asking() as cut:
            return relations(cut)

    @property
    def lost_office(self) -> str | None:
        """What is to be told before anything else, as `audit.lost_office`; None where the office file is there."""
        from regdash.store.audit import lost_office

        return lost_office(self._store)

    @property
    def named(self) -> dict[str, str]:
        """Filter words of named cohorts, by name, for `cohort.parse`."""
        from regdash.store.named_cohorts import named_cohorts

        return {name: saved.words for name, saved in named_cohorts(self._store).items()}

    def save_cohort(self, name: str, cohort: Cohort, note: str = "") -> str:
        """Give a cohort a name, as `save_and_tell`, and say which name it has."""
        from regdash.store.named_cohorts import save_and_tell

        (saved,) = save_and_tell(self._store, {name: str(cohort)}, note)
        return saved.name

    def remove_cohort(self, name: str) -> str:
        """Take a name away, as `remove_and_tell`, and say which."""
        from regdash.store.named_cohorts import remove_and_tell

        return remove_and_tell(self._store, name).name

    def register(self, lines: int | None = None) -> "Requests":
        """Read the register of requests, or its first lines, as `requests_known`."""
        from regdash.store.requests import requests_known

        return requests_known(self._store, lines)

    def note_export(self, of: str, rows: int, form: str, **more: str) -> str | None:
        """
        Write down in the audit trail that rows of single joints or records leave.

        Returns:
            A sentence where it cannot be written down; reading is for everybody, so they leave all the same.
        """
        from regdash.store.audit import append

        with self._asking() as cut:
            name = cut.name
        try:
            append(self._store, "export", name, details={"of": of, "rows": rows, "form": form, **more})
        except StoreError as fault:
            return f"This export is not in the audit trail. {fault}"
        return None
