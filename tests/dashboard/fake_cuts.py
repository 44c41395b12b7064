"""The part of the double that answers questions about data cuts, by plain formulas."""

from dataclasses import replace
from datetime import date
from typing import Any

from regdash.cohort import Cohort
from regdash.grouping import Grouping
from regdash.reports.changes import ChangesHead, ChangesReport, ChangesRow
from regdash.reports.corrected import CorrectionsReport
from regdash.reports.cut_contents import CutContents
from regdash.reports.submitted_rows import RowsHead, RuleTotal
from regdash.store.corrections import Correction, FieldCount

# Parts in the order of the report: definitions, corrections, links undone, new links, late events, new events.
PARTS = {
    "joints": (0, -3, 0, 0, 40, 5000),
    "revisions": (-2, 1, -1, 4, 12, 300),
    "implant_years": (0, -9, 0, 0, 55, 9000),
}
RISK_PARTS = (-0.0002, 0.0001, 0.0, 0.0004, 0.0003, 0.0011)
BEFORE = {"joints": 91_000, "revisions": 3_500, "implant_years": 700_000}


class FakeCuts:
    """Answers the questions about data cuts."""

    def _think(self, question: str, about: Any) -> None:
        raise NotImplementedError

    def contents(self, name: str) -> CutContents:
        self._think("contents", name)
        n = int(name[:4]) - 2000
        rules = (
            RuleTotal("operations", "date-unreadable", "reject", "The date is missing.", 3, 1),
            RuleTotal("components", "catalogue-number-unknown", "hold", "It is not in the catalogue.", 10 * n, 2),
        )
        return CutContents(name, {"knee": 1000 * n}, 100 + n, 90 + n, (90 + n) / (100 + n), 3 + 10 * n, rules)

    def corrections(self, name: str, cohort: Cohort) -> CorrectionsReport:
        self._think("corrections", (name, str(cohort)))
        first = Correction(
            date(2024, 5, 6),
            "H001",
            "H001-0042",
            "H001-0000123",
            "operations",
            None,
            "prophylaxis",
            "low-molecular-weight-heparin",
            "aspirin",
            "typed wrongly",
            True,
        )
        earlier = replace(
            first, corrected_on=date(2024, 2, 3), field="bmi", old_value=None, new_value="31.5", reason=None
        )
        death = replace(
            earlier, hospital="office", table="deaths", record_id="P000000007", field="death_date", is_counted=False
        )
        head = RowsHead("corrections", cohort.words, (), name, "Field by field.", ("Notes are not shown.",))
        fields = (FieldCount("operations", "prophylaxis", 1, 1, 1), FieldCount("operations", "bmi", 1, 1, 1))
        return CorrectionsReport(head, (first, earlier, death), fields, "2023-12-31.1" if name[:4] == "2024" else None)

    def changes(
        self, earlier: str, cohort: Cohort, by: tuple[Grouping, ...], years: tuple[float, ...]
    ) -> ChangesReport:
        self._think("changes", (earlier, str(cohort), ",".join(map(str, by))))
        rows = []
        for group in ("total", "partial"):
            for figure, parts in PARTS.items():
                before = BEFORE[figure]
                rows.append(ChangesRow(group, figure, None, before, *parts, before + sum(parts)))
            rows += [
                ChangesRow(group, "risk", t, 0.01 * t, *RISK_PARTS, 0.01 * t + sum(RISK_PARTS)) for t in years[:-1]
            ]
            rows.append(ChangesRow(group, "risk", years[-1], *(None,) * 8, "fewer than 40 joints at risk"))
        head = ChangesHead("changes", cohort, by, earlier, "2024-12-31.1", "In steps.", ("A joint has one cause.",))
        return ChangesReport(head, tuple(rows))
