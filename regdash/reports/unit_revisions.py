"""How many joints of each hospital or surgeon were revised, by reason and time: what one of them knows of a figure."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regdash.cohort import Cohort
from regdash.fields import FIELDS
from regdash.grouping import Grouping
from regdash.reports.counted import count
from regdash.reports.unit_counts import MOST
from regdash.reports.unit_profile import KINDS
from regdash.stats.events import FIRST_REASON
from regdash.stats.years import days_in
from regdash.store.cuts import Cut
from regdash.vocabulary import NOT_RECORDED


@dataclass(frozen=True)
class UnitRevisions:
    """Joints revised, by unit, reason and time; nothing is withheld."""

    codes: tuple[str, ...]  # that of joints whose unit is not recorded among them
    reasons: tuple[str, ...]
    counts: np.ndarray  # (units, reasons, times + 1) revised by each time, and ever

    @property
    def all(self) -> np.ndarray:
        """Of all units together; (reasons, times + 1)."""
        return np.asarray(self.counts.sum(axis=0))

    def others(self, code: str) -> np.ndarray:
        """Of all units but one; (reasons, times + 1)."""
        return self.all - (self.counts[self.codes.index(code)] if code in self.codes else 0)

    @property
    def units(self) -> tuple[str, ...]:
        """The codes of units: who knows joints one by one."""
        return tuple(code for code in self.codes if code != NOT_RECORDED)


def unit_revisions(cut: Cut, kind: str, cohort: Cohort, years: Sequence[float]) -> UnitRevisions:
    """
    Count the joints of a cohort that were revised, by unit, group of reasons and time.

    Args:
        kind: a key of KINDS.
        years: times since the primary.

    Raises:
        FilterError: an outcome word in the cohort.
    """
    unit = Grouping(FIELDS[KINDS[kind]])
    counted = count(cut, cohort, (unit,), most=MOST)
    table = counted.table
    codes = tuple(unit.label(numbers[-1], cut.known) for numbers in counted.numbers)
    reasons = table.outcomes[FIRST_REASON:]
    found = np.zeros((len(codes), len(reasons), len(years) + 1), dtype=np.int64)
    revised = table.outcome >= FIRST_REASON
    for place, last in enumerate([*(days_in(one) for one in years), None]):
        chosen = revised if last is None else revised & (table.day <= last)
        cells = table.group[chosen], table.outcome[chosen] - FIRST_REASON, np.full(int(chosen.sum()), place)
        np.add.at(found, cells, table.joints[chosen])
    return UnitRevisions(codes, reasons, found)
