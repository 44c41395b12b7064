"""How many of the joints of each group every hospital or surgeon has: what one of them knows of a table of counts."""

from collections.abc import Sequence

from regdash.cohort import Cohort
from regdash.fields import FIELDS
from regdash.grouping import Grouping
from regdash.reports.counted import count
from regdash.reports.unit_profile import KINDS
from regdash.store.cuts import Cut
from regdash.vocabulary import NOT_RECORDED

MOST = 200_000
Labels = tuple[str, ...]


def joints_of_groups(cut: Cut, cohort: Cohort, by: Sequence[Grouping]) -> dict[Labels, int]:
    """
    Count the joints of each group, labelled field by field; for the office, since nothing is withheld.

    Raises:
        FilterError: an outcome word in the cohort.
    """
    counted = count(cut, cohort, by, most=MOST)
    return {
        tuple(g.label(number, cut.known) for g, number in zip(by, numbers)): counted.table.of(place).joints
        for place, numbers in enumerate(counted.numbers)
    }


def joints_by_unit(cut: Cut, kind: str, cohort: Cohort, by: Sequence[Grouping]) -> dict[str, dict[Labels, int]]:
    """
    Count joints by unit, and by group within each; for the office, since nothing is withheld.

    Args:
        kind: a key of KINDS.

    Returns:
        For each code the joints of each group, labelled field by field; joints without a code belong to no unit.

    Raises:
        FilterError: an outcome word in the cohort.
    """
    unit = Grouping(FIELDS[KINDS[kind]])
    counted = count(cut, cohort, (*by, unit), most=MOST)
    found: dict[str, dict[Labels, int]] = {}
    for place, numbers in enumerate(counted.numbers):
        code = unit.label(numbers[-1], cut.known)
        labels = tuple(g.label(number, cut.known) for g, number in zip(by, numbers))
        if code != NOT_RECORDED:
            found.setdefault(code, {})[labels] = counted.table.of(place).joints
    return found
