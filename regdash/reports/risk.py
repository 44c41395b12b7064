"""The revision risk of a cohort by group: at chosen years, and as curves."""

from collections.abc import Sequence
from itertools import chain

import numpy as np

from regdash.cohort import Cohort
from regdash.endpoints import ANY_REVISION
from regdash.errors import FilterError
from regdash.grouping import Grouping
from regdash.reports import wording
from regdash.reports.counted import Counted, count, head
from regdash.reports.event import Event, event_of
from regdash.reports.model import (
    IMPLANT_VIEW,
    PATIENT_VIEW,
    Curve,
    Group,
    RiskReport,
    RiskRow,
)
from regdash.reports.policy import Policy
from regdash.stats.limits import ALL_HAD_IT, EXACT_BOUND, RiskAt
from regdash.stats.step_curve import RiskSet, StepCurve
from regdash.stats.years import days_in, years_in
from regdash.store.cuts import Cut
from regdash.suggest import nearest

LONGEST_YEARS = 100.0
_NOTES = {EXACT_BOUND: wording.EXACT_BOUND, ALL_HAD_IT: wording.NO_LIMITS}


def risk_report(
    cut: Cut,
    policy: Policy,
    cohort: Cohort,
    by: Sequence[Grouping] = (),
    years: Sequence[float] = (1, 5, 10, 15),
    view: str = IMPLANT_VIEW,
    reason: str | None = None,
    endpoint: str = ANY_REVISION.key,
) -> RiskReport:
    """
    Answer: which proportion is revised by so many years, by group?

    Args:
        years: times of the table, in any order.
        view: IMPLANT_VIEW for net risk, PATIENT_VIEW for cumulative incidence. One reason alone is
            always seen with everything else competing, so it implies the patient view.
        reason: a reason for revision, by group or in detail; None for whatever reason.
        endpoint: key or name of the endpoint, as `endpoints.named`; years are those of its clock.

    Raises:
        FilterError: an outcome word in the cohort, an unknown view, reason or endpoint, or years below 0.
    """
    event = event_of(cut, endpoint, reason)
    view = PATIENT_VIEW if reason else checked_view(view)
    years = checked_years(years)
    counted = count(cut, cohort, by, event.column, endpoint=event.endpoint, view=view)
    return assemble(counted, policy, event, view, years)


def assemble(counted: Counted, policy: Policy, event: Event, view: str, years: tuple[float, ...]) -> RiskReport:
    """Make the report from a cohort that has been counted for the event's endpoint and in that view."""
    steps = [event.curve(counted.table.of(n), counted.table.outcomes, view) for n in range(len(counted.groups))]
    read = [step.at([days_in(y) for y in years], policy.level) for step in steps]
    rows = tuple(
        risk_row(policy, group, year, at, step.followed)
        for group, step, ats in zip(counted.groups, steps, read)
        for year, at in zip(years, ats)
    )
    shown = [at for row, at in zip(rows, chain.from_iterable(read)) if row.withheld is None]
    notes = {at.note for at in shown}
    cautions = [wording.DEATHS_CENSORED if view == IMPLANT_VIEW else wording.DEATHS_COMPETE]
    cautions += [_NOTES[note] for note in _NOTES if note in notes]
    method = wording.NET_RISK if view == IMPLANT_VIEW else wording.CUMULATIVE_INCIDENCE
    measure = "net revision risk" if view == IMPLANT_VIEW else "cumulative incidence of revision"
    return RiskReport(
        head(counted, policy, measure, method, cautions, view=view, endpoint=event.name),
        counted.groups,
        years,
        rows,
        tuple(curve(policy, group.label, step) for group, step in zip(counted.groups, steps)),
    )


def risk_row(policy: Policy, group: Group, years: float, at: RiskAt, followed: RiskSet) -> RiskRow:
    """Write one line of the table, its estimate withheld where the policy says so."""
    why = policy.why_not_at(at.day, at.at_risk, followed.last_day)
    estimate, lower, upper = (None, None, None) if why else (at.risk, at.lower, at.upper)
    return RiskRow(group.label, years, at.at_risk, at.events, estimate, lower, upper, why)


def curve(policy: Policy, name: str, step: StepCurve) -> Curve:
    """Draw out a step curve up to the last day on which the policy allows an estimate; empty where it never does."""
    whole = step.curve(policy.level)
    last_day = _last_allowed(policy, step.followed)
    shown = whole.days <= last_day
    return Curve(
        group=name,
        days=whole.days[shown],
        estimate=whole.risk[shown],
        lower=whole.lower.filled(np.nan)[shown],
        upper=whole.upper.filled(np.nan)[shown],
        last_day=max(last_day, 0),
        at_risk=_at_risk_by_year(step.followed),
    )


def _last_allowed(policy: Policy, followed: RiskSet) -> int:
    enough = np.flatnonzero(followed.at_risk >= max(policy.minimum_at_risk, 1))
    return int(followed.days[enough[-1]]) if len(enough) else -1


def _at_risk_by_year(followed: RiskSet) -> tuple[tuple[float, int], ...]:
    if followed.last_day is None:
        return ()
    years = range(int(years_in(followed.last_day)) + 1)
    return tuple((float(y), int(n)) for y, n in zip(years, followed.at([days_in(y) for y in years])))


def checked_view(view: str) -> str:
    """Refuse a view that there is not."""
    if view not in (IMPLANT_VIEW, PATIENT_VIEW):
        raise FilterError(f"There is no view {view}. {nearest(view, (IMPLANT_VIEW, PATIENT_VIEW))}")
    return view


def checked_years(years: Sequence[float]) -> tuple[float, ...]:
    """Refuse times that nobody can be followed to, and put the rest in order."""
    if not years:
        raise FilterError("A risk needs at least one time in years, as in 1,5,10")
    for year in years:
        if not 0 <= year <= LONGEST_YEARS:
            raise FilterError(
                f"{year} is not a time in years. Write numbers from 0 to {LONGEST_YEARS:.0f}, as in 1,5,10"
            )
    return tuple(sorted(dict.fromkeys(float(year) for year in years)))
