"""The questions in SQL, as a desk asks them, and what leaves the dashboard as files or text."""

from contextlib import AbstractContextManager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from regdash.errors import StoreError
from regdash.store.cuts import Cut

if TYPE_CHECKING:
    from regdash.reports.statements import Relation, StatementReport


class WrittenDesk:
    """Statements on one data cut, and the note of what is written out of it."""

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
