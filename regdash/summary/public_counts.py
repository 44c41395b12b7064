"""The quarter's primaries by class and age as everybody sees them: the counts, and what is withheld of them."""

from dataclasses import dataclass

import numpy as np

from regdash import grouping
from regdash.reports.unit_profile import KINDS
from regdash.summary.asker import Asker
from regdash.summary.suppression import Reader, Suppressed, suppressed

ALL = "all"
Counts = dict[tuple[str, ...], int]


@dataclass(frozen=True)
class QuarterCounts:
    """Primaries of one joint in the quarter, by class and age."""

    joint: str
    classes: tuple[str, ...]  # rows; the last is ALL
    ages: tuple[str, ...]  # columns; the last is ALL
    table: np.ndarray  # (classes, ages) counts, totals last
    withheld: Suppressed

    @property
    def shown(self) -> list[list[int | None]]:
        """The counts by row, None where they are withheld."""
        return [
            [None if goes else number for number, goes in zip(row, hidden)]
            for row, hidden in zip(self.table.tolist(), self.withheld.hidden.tolist())
        ]


def quarter_counts(asker: Asker) -> list[QuarterCounts]:
    """
    Count the primaries of the quarter, and choose what everybody must not see; joints without any are left out.

    Each edition counts its own quarter alone, so that editions of two quarters cannot be set off against each other;
    where the same quarter was told before, by that edition.
    """
    return [found for joint in asker.edition.joints if (found := _of_joint(asker, joint))]


def _of_joint(asker: Asker, joint: str) -> QuarterCounts | None:
    cohort = asker.cohort(f"joint={joint} implanted={asker.quarter}", "public-operations")
    by = grouping.parse("class,age")
    report = asker.desk.describe(cohort, grouping.parse("class")), asker.desk.describe(cohort, grouping.parse("age"))
    classes, ages = (tuple(group.label for group in one.groups) for one in report)
    units = {kind: asker.desk.joints_by_unit(kind, cohort, by) for kind in KINDS}
    if not classes:
        return None
    whole = _with_totals(asker.desk.joints_of_groups(cohort, by), classes, ages)
    readers = [Reader(code, _with_totals(own, classes, ages)) for of in units.values() for code, own in of.items()]
    edition = asker.edition
    rows, columns = (*classes, ALL), (*ages, ALL)
    told = asker.before if asker.before and asker.before.quarter == str(asker.quarter) else None
    before, ever = (told.table(joint, rows, columns), told.least(joint, rows, columns)) if told else (None, None)
    limits = edition.withhold_counts_under, edition.protection_width
    chosen = suppressed(whole, readers, *limits, before=before, told_ever=ever)
    return QuarterCounts(joint, rows, columns, whole, chosen)


def _with_totals(counts: Counts, classes: tuple[str, ...], ages: tuple[str, ...]) -> np.ndarray:
    cells = np.array([[counts.get((one, other), 0) for other in ages] for one in classes], dtype=np.int64)
    table = np.zeros((len(classes) + 1, len(ages) + 1), dtype=np.int64)
    table[:-1, :-1] = cells
    table[:-1, -1], table[-1, :-1], table[-1, -1] = cells.sum(axis=1), cells.sum(axis=0), cells.sum()
    return table
