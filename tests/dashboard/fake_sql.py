"""A room for SQL without a database, for the fake desk."""

from typing import Any

from regdash.errors import StatementError
from regdash.reports.statements import Relation, RelationColumn, StatementReport

RELATIONS = (
    Relation(
        "hospital_profile",
        "view",
        "What each hospital does: its primaries and how they last.",
        (
            RelationColumn("hospital_id", "varchar", "hospital"),
            RelationColumn("primaries", "bigint", "primaries there"),
        ),
    ),
    Relation(
        "follow_up",
        "table",
        "One row per primary joint, followed to its first revision.",
        (
            RelationColumn("joint_id", "varchar", "patient pseudonym, joint and side"),
            RelationColumn("class", "one of total, partial", "class of the replacement"),
            RelationColumn("days", "integer", "whole days in follow-up"),
        ),
    ),
)


class FakeSql:
    """Answers statements with rows that follow from their length."""

    refused: str | None = None
    noted: str | None = None

    def take_asked_sql(self) -> tuple[str, ...]:
        return ("select count(*) from follow_up",)

    def relations(self) -> tuple[Relation, ...]:
        return RELATIONS

    def statement(self, text: str) -> StatementReport:
        desk: Any = self
        desk._think("sql", text)
        if self.refused:
            raise StatementError(self.refused)
        rows = (
            ("total", 88120, 7.25, "a long text " * 9),
            ("partial", 8292, None, "two\nlines"),
            ("hemi", 12, 0.1, ""),
        )
        return StatementReport(
            "2024-12-31.1", text, ("class", "joints", "years", "said"), rows, 1000, "more" in text, 0.1
        )

    def note_export(self, of: str, rows: int, form: str, **more: str) -> str | None:
        desk: Any = self
        desk.asked.append(("export", (of, rows, form, more)))
        return self.noted
