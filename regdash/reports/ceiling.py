"""Verdicts on risks: against a ceiling that the office states, or against the reference with a margin on it."""

from collections.abc import Sequence
from itertools import chain
from math import isfinite

from regdash.errors import FilterError
from regdash.reports.estimated import Estimated, How
from regdash.reports.model import CeilingRow, MarginRow, RiskRow
from regdash.stats.ceiling import judged_by_benchmark, judged_by_ceiling
from regdash.stats.difference import Side
from regdash.stats.limits import RiskAt

CANNOT_SAY = "cannot say yet"


def refuse_bars(how: How) -> None:
    """
    Refuse a ceiling or a margin that is none.

    Raises:
        FilterError: a ceiling that is not between 0 and 1, a margin below 0, or no joints asked for.
    """
    if how.ceiling is not None and not 0 < how.ceiling < 1:
        raise FilterError(f"A ceiling for a risk lies between 0 and 100 %, and {100 * how.ceiling:g} % does not.")
    if how.margin is not None and not (how.margin >= 0 and isfinite(how.margin)):
        raise FilterError(f"A margin on the risk of the reference is 0 % or more, and {100 * how.margin:g} % is not.")
    if how.at_least < 1:
        raise FilterError(f"A verdict needs joints at risk: ask for 1 or more, not {how.at_least:,}.")


def ceiling_rows(found: Estimated, rows: Sequence[RiskRow], how: How) -> tuple[CeilingRow, ...]:
    """
    Judge each risk by the ceiling; one that the policy withholds is not judged.

    Args:
        rows: one a group and time, in this order.
    """
    if how.ceiling is None:
        return ()
    return tuple(_by_ceiling(row, at, how.ceiling, how.at_least) for row, at in zip(rows, chain(*found.read)))


def margin_rows(
    found: Estimated, rows: Sequence[RiskRow], reference: int, years: Sequence[float], how: How
) -> tuple[MarginRow, ...]:
    """
    Judge each group's risk by that of the reference with the margin on it; one that the policy withholds is not judged.

    Args:
        rows: one a group and time, in this order.

    Raises:
        FilterError: there is one group only.
    """
    if how.margin is None:
        return ()
    if len(found.groups) < 2:
        raise FilterError("A margin is on another group's risk, and there is one only. Group by a field, as in class.")
    read = [_read(found, rows, group, len(years)) for group in range(len(found.groups))]
    against = read[reference]
    return tuple(
        _by_margin(own, best, how.margin, how.at_least)
        for group, each in enumerate(read)
        if group != reference
        for own, best in zip(each, against)
    )


Read = tuple[RiskRow, RiskAt, Side]


def _read(found: Estimated, rows: Sequence[RiskRow], group: int, times: int) -> list[Read]:
    return list(zip(rows[group * times : (group + 1) * times], found.read[group], found.sides[group]))


def _by_ceiling(row: RiskRow, at: RiskAt, ceiling: float, at_least: int) -> CeilingRow:
    if row.withheld:
        return CeilingRow(row.group, row.years, ceiling, CANNOT_SAY, f"withheld: {row.withheld}")
    judged = judged_by_ceiling(at, ceiling, at_least)
    return CeilingRow(row.group, row.years, ceiling, judged.verdict, judged.why)


def _by_margin(own: Read, best: Read, margin: float, at_least: int) -> MarginRow:
    (row, at, side), (reference, best_at, best_side) = own, best
    for each in (row, reference):
        if each.withheld:
            why = f"withheld: {each.group}: {each.withheld}"
            return MarginRow(row.group, reference.group, row.years, margin, None, None, None, CANNOT_SAY, why)
    judged = judged_by_benchmark(at.day, side, best_side, margin, (at.at_risk, best_at.at_risk), at_least)
    found = judged.excess
    figures = (found.difference, found.lower, found.upper)
    return MarginRow(row.group, reference.group, row.years, margin, *figures, judged.verdict, judged.why)
