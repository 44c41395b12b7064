"""What the reasons of others tell beside their risks: all reasons add up to the revisions of the joint's classes."""

from collections.abc import Sequence

from regdash.cohort import Cohort
from regdash.errors import FilterError
from regdash.reports.model import RiskRow
from regdash.summary.asker import Asker
from regdash.summary.disclosure import risks_of_others, why_hidden
from regdash.summary.sections.own_risk import OTHERS, risk_beside_others


def total_tells(asker: Asker, joint: str, cohort: Cohort, years: float, total: int) -> bool:
    """
    Whether the revisions of others for all reasons together would tell a small count that their risks leave out.

    So it is where a risk by that time is withheld for a small count, and where the total less what risks tell of the
    joint's classes, or what a later risk tells less the total, is small.

    Args:
        cohort: of the reasons.
        years: by which they are counted.
        total: revisions of others by then, for any reason.
    """
    if "own-risk" not in asker.edition.sections:
        return False
    found = [_around(rows, asker, years) for of, rows in _risks(asker, joint) if _overlap(of, cohort)]
    sooner, later = sum(before for before, _, _ in found), [after for _, after, _ in found if after is not None]
    is_small = [asker.others.count(number) is None for number in (total - sooner, *(after - total for after in later))]
    return any(is_small) or any(is_left_out for _, _, is_left_out in found)


def _risks(asker: Asker, joint: str) -> list[tuple[Cohort, Sequence[RiskRow]]]:
    """Ask for the risks of others that the edition tells of a joint."""
    found: list[tuple[Cohort, Sequence[RiskRow]]] = []
    for question in asker.edition.questions["risk"]:
        for of, cohort in asker.asked(question):
            if of != joint:
                continue
            try:
                report = risk_beside_others(asker, question, cohort)
            except FilterError:
                continue  # none of the own joints is among these, so that nothing is told
            found.append((cohort, [row for row in report.rows if row.group == OTHERS]))
    return found


def _overlap(one: Cohort, other: Cohort) -> bool:
    """Whether joints can be in both, by their classes."""
    classes = [
        {str(value) for condition in cohort.conditions if condition.key == "class" for value in condition.values}
        for cohort in (one, other)
    ]
    return not all(classes) or bool(classes[0] & classes[1])


def _around(rows: Sequence[RiskRow], asker: Asker, years: float) -> tuple[int, int | None, bool]:
    """Give the revisions that the last told risk up to a time has, those of the next, and whether one is left out."""
    told = risks_of_others(asker.others, rows)
    sooner, later, is_left_out = 0, None, False
    for row, shown in zip(rows, told):
        if shown.estimate is not None and row.revisions is not None:
            sooner = row.revisions if row.years <= years else sooner
            later = row.revisions if row.years > years and later is None else later
        is_left_out |= shown.withheld == why_hidden(asker.others)
    return sooner, later, is_left_out
