"""The part of the double that answers questions about records, by plain formulas."""

from typing import Any

from regdash.cohort import Cohort
from regdash.reports.complete_through import CompleteThroughReport, CompleteThroughRow
from regdash.reports.completeness import CompletenessReport, CompletenessRow
from regdash.reports.linked import LinkedReport, LinkedRow
from regdash.reports.missingness import MissingReport, MissingRow
from regdash.reports.records import RecordsHead
from regdash.reports.timeliness import DelayRow, DelaysReport
from regdash.reports.triangle import TriangleReport, TriangleRow

VALUES = {"hospital": ("H001", "H002", "H012"), "year": ("2022", "2023", "2024")}
CAUSES = ("primary elsewhere or not submitted", "unknown")
FIELDS = (("operations", "asa"), ("operations", "bmi"), ("components", "lot"))


class FakeRecords:
    """Answers the questions about records."""

    def _think(self, question: str, about: Any) -> None:
        raise NotImplementedError

    def complete_through(self, hospital: str | None) -> CompleteThroughReport:
        self._think("complete_through", hospital)
        names = [name for name in VALUES["hospital"] if hospital in (None, name)]
        days = {"H001": ("2024-12-31", 0), "H002": ("2024-11-30", 31), "H012": ("2024-12-31", 0)}
        rows = [CompleteThroughRow("operations", name, 40, "2025-01-20", *days[name], days[name][0]) for name in names]
        rows.append(CompleteThroughRow("deaths", "office", 40, "2025-02-01", "2024-12-31", 0, None))
        return CompleteThroughReport(_head(Cohort(), ()), tuple(rows))

    def linked(self, cohort: Cohort, by: tuple[str, ...]) -> LinkedReport:
        self._think("linked", (str(cohort), by))
        rows = tuple(
            LinkedRow(label, 100 + n, 90 - n, (90 - n) / (100 + n), n, {CAUSES[0]: 10, CAUSES[1]: 2 * n})
            for n, label in enumerate(_groups(cohort, by))
        )
        return LinkedReport(_head(cohort, by), CAUSES, rows)

    def completeness(self, cohort: Cohort, by: tuple[str, ...]) -> CompletenessReport:
        self._think("completeness", (str(cohort), by))
        rows = []
        for n, label in enumerate(_groups(cohort, by)):
            rows.append(CompletenessRow(f"{label}, primary", 970 + n, 1000, 0.97 + n / 1000, None, 0, 4))
            rows.append(CompletenessRow(f"{label}, revision", 21, 20, 1.05, "over 100 %: sent twice", 0, 0))
        return CompletenessReport(_head(cohort, (*by, "kind")), tuple(rows))

    def delays(self, cohort: Cohort, by: tuple[str, ...]) -> DelaysReport:
        self._think("delays", (str(cohort), by))
        rows = [
            DelayRow(label or "all", 900 + n, 31 + n, 88 + n, 0.48, 0.8, 0.91, 12)
            for n, label in enumerate(_groups(cohort, by))
        ]
        if len(rows) > 1:
            rows[-1] = DelayRow(
                rows[-1].group, None, None, None, None, None, None, None, "counts of 1 to 9 are withheld"
            )
        return DelaysReport(_head(cohort, by), tuple(rows))

    def triangle(self, cohort: Cohort, *, period: str) -> TriangleReport:
        self._think("triangle", (str(cohort), period))
        names = ("2024-Q1", "2024-Q2", "2024-Q3") if period == "quarter" else ("2024-07", "2024-08", "2024-09")
        size = 3 if period == "quarter" else 1
        rows = [
            TriangleRow("all", name, names[n + lag], lag * size, *_came(n, lag, 2 - n))
            for n, name in enumerate(names)
            for lag in range(3 - n)
        ]
        return TriangleReport(_head(cohort, ()), period, names[-1], tuple(rows))

    def missing(self, cohort: Cohort, by: tuple[str, ...]) -> MissingReport:
        self._think("missing", (str(cohort), by))
        rows = [
            MissingRow(label, table, field, 400, 10 * k + n, (10 * k + n) / 400)
            for n, label in enumerate(_groups(cohort, by) if by else ("all",))
            for k, (table, field) in enumerate(FIELDS)
            if (n, field) != (1, "lot")  # it applies to no record there
        ]
        return MissingReport(_head(cohort, by), tuple(rows))


def _came(n: int, lag: int, last: int) -> tuple[int, int, float]:
    """Operations of the period n that came after a lag, all up to then, and their share: 100, then 60, then 40."""
    came = [100 + n, 60 + n, 40 + n]
    return came[lag], sum(came[: lag + 1]), sum(came[: lag + 1]) / sum(came[: last + 1])


def _groups(cohort: Cohort, by: tuple[str, ...]) -> list[str]:
    """Every pair of values of the fields that group; of the hospitals those that the filter names."""
    named = [list(map(str, c.values)) for c in cohort.conditions if c.key == "hospital"]
    labels = [""]
    for key in by:
        values = named[0] if key == "hospital" and named else VALUES[key]
        labels = [f"{label}, {value}" if label else value for label in labels for value in values]
    return labels


def _head(cohort: Cohort, by: tuple[str, ...]) -> RecordsHead:
    cautions = ("What is still to come is not there.",)
    return RecordsHead("records", cohort, None, by, "2024-12-31.1", "Counted as is common practice.", cautions)
