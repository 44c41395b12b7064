"""Risks as they were estimated, group by group and time by time: crude or standardised, since day 0 or a landmark."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regdash.errors import FilterError
from regdash.grouping import Grouping
from regdash.reports.clustered import Clustered, clustered
from regdash.reports.counted import Counted
from regdash.reports.event import Event
from regdash.reports.model import DifferenceRow, Group, MixRow, RiskRow
from regdash.reports.patterns import Patterns
from regdash.reports.policy import Policy
from regdash.stats.difference import Side, risk_sides, side_difference
from regdash.stats.events import EventTable
from regdash.stats.landmark import given_unrevised
from regdash.stats.limits import RiskAt
from regdash.stats.standardised_risk import standardised_risk
from regdash.stats.step_curve import StepCurve
from regdash.stats.years import days_in

AT_LEAST = 500  # joints at risk behind a verdict: Deere et al. (2019), BMJ Open 9:e026685, for relative margins


@dataclass(frozen=True)
class How:
    """What may be asked of a risk beside itself."""

    difference: bool = False  # each group less the reference too
    reference: str | None = None  # its label or filter value; left out, the largest group
    given_unrevised: float | None = None  # years: of joints still followed and unrevised then
    standardise: tuple[Grouping, ...] = ()  # to the cohort's own mix of these fields
    ceiling: float | None = None  # 0 to 1: is the risk below it? Nobody but who asks can say which
    margin: float | None = None  # 0.2: is the risk below that of the reference and a fifth more?
    at_least: int = AT_LEAST  # joints at risk, else neither can be said
    cluster: str | None = None  # whose joints may resemble each other: of one patient
    missing: float | None = None  # share of all true revisions that may be missing, 0 to 1
    missing_from_worst: int | None = None  # from so many hospitals with the fewest revisions; None: from all alike


PLAIN = How()


@dataclass(frozen=True, eq=False)
class Estimated:
    """A risk for each group and time, and what is needed to compare it."""

    groups: tuple[Group, ...]
    read: tuple[tuple[RiskAt, ...], ...]  # of each group, one a time
    sides: tuple[tuple[Side, ...], ...]  # the same
    last_days: tuple[int | None, ...]  # of each group's follow-up
    steps: tuple[StepCurve, ...] = ()  # none where risks are standardised
    mix: tuple[MixRow, ...] = ()
    clustered: Clustered | None = None


def crude(
    counted: Counted,
    table: EventTable,
    policy: Policy,
    event: Event,
    view: str,
    years: Sequence[float],
    how: How = PLAIN,
) -> Estimated:
    """Estimate each group's risk as it is, from the cohort's own table or that of a landmark."""
    days = [days_in(year) for year in years]
    groups = range(len(counted.groups))
    together = clustered(counted, table, event, view, how.given_unrevised) if how.cluster else None
    if together:
        steps = tuple(map(together.curve, groups))
    else:
        steps = tuple(event.curve(table.of(n), table.outcomes, view) for n in groups)
    return Estimated(
        counted.groups,
        tuple(step.at(days, policy.level) for step in steps),
        tuple(risk_sides(step, days, policy.level) for step in steps),
        tuple(step.followed.last_day for step in steps),
        steps,
        clustered=together,
    )


def standardised(
    patterns: Patterns, policy: Policy, event: Event, view: str, years: Sequence[float], landmark: float | None
) -> Estimated:
    """Estimate each group's risk with the strata of all groups together in their proportions at implantation."""
    stratum, labels = patterns.stratum()
    size, days = len(labels), [days_in(year) for year in years]
    population = np.bincount(stratum[patterns.table.group], patterns.table.joints, size).astype(np.int64)
    cells = [f"{group.label}, {label}" for group in patterns.groups for label in labels]
    table = at_landmark(patterns.merged(patterns.group * size + stratum, cells), landmark)
    curves = [event.curve(table.of(n), table.outcomes, view) for n in range(len(cells))]
    own = [curves[n * size : (n + 1) * size] for n in range(len(patterns.groups))]
    read = [
        standardised_risk(strata, population, labels, days, policy.minimum_in_stratum, policy.level) for strata in own
    ]
    shares = zip(labels, population.tolist(), (population / max(population.sum(), 1)).tolist())
    mix = tuple(_mixed(policy, label, *each) for label, *each in shares)
    return Estimated(
        patterns.groups,
        tuple(read),
        tuple(tuple(map(_side, ats)) for ats in read),
        tuple(map(_last_day, own)),
        mix=mix,
    )


def _mixed(policy: Policy, stratum: str, joints: int, share: float) -> MixRow:
    return MixRow(stratum, policy.count(joints), None if policy.why_small(joints) else share)


def _last_day(strata: Sequence[StepCurve]) -> int | None:
    days = [each.followed.last_day for each in strata]
    return max((day for day in days if day is not None), default=None)


def _side(at: RiskAt) -> Side:
    """A risk whose standard error is not at hand, to be compared by its own limits."""
    if at.risk is None or at.lower is None or at.upper is None:
        return Side(at.risk, note=at.note)
    return Side(at.risk, 0.0, at.risk - at.lower, at.upper - at.risk, none_yet=at.risk == 0)


def at_landmark(table: EventTable, years: float | None) -> EventTable:
    """Keep the joints that are still followed and unrevised after so many years; all of them where None."""
    return table if years is None else given_unrevised(table, days_in(years))


def after_landmark(years: tuple[float, ...], landmark: float | None) -> tuple[float, ...]:
    """
    Leave out the times up to a landmark, at which nothing is at risk yet.

    Raises:
        FilterError: no time is left.
    """
    if landmark is None:
        return years
    left = tuple(year for year in years if year > landmark)
    if not left:
        said = ", ".join(f"{year:g}" for year in years)
        raise FilterError(
            f"A risk given unrevised at {landmark:g} years needs times after that, and {said} is none. Ask for later "
            "ones."
        )
    return left


def difference_rows(
    found: Estimated, rows: Sequence[RiskRow], reference: int, years: Sequence[float]
) -> tuple[DifferenceRow, ...]:
    """
    Write each group's risk less that of the reference, withheld where either risk is.

    Args:
        rows: one a group and time, in this order.

    Raises:
        FilterError: there is one group only.
    """
    if len(found.groups) < 2:
        raise FilterError("A difference is between groups, and there is one only. Group by a field, as in class.")
    times = len(years)
    against = rows[reference * times : (reference + 1) * times]
    compared = [group for group in range(len(found.groups)) if group != reference]
    shared = {group: np.zeros(times) for group in compared}
    if found.clustered:
        shared = {group: found.clustered.covariance(group, reference, years) for group in compared}
    return tuple(
        _difference(
            rows[group * times + n],
            against[n],
            found.sides[group][n],
            found.sides[reference][n],
            float(shared[group][n]),
        )
        for group in compared
        for n in range(times)
    )


def _difference(own: RiskRow, against: RiskRow, one: Side, other: Side, covariance: float) -> DifferenceRow:
    for row in (own, against):
        if row.withheld:
            return DifferenceRow(own.group, against.group, own.years, None, None, None, f"{row.group}: {row.withheld}")
    at = side_difference(days_in(own.years), one, other, covariance)
    return DifferenceRow(own.group, against.group, own.years, at.difference, at.lower, at.upper)
