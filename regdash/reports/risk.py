"""The revision risk of a cohort by group: at chosen years, and as curves."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain

import numpy as np

from regdash.cohort import Cohort
from regdash.errors import FilterError
from regdash.grouping import Grouping
from regdash.reports import wording
from regdash.reports.counted import Counted, count, head
from regdash.reports.model import (
    ANY_REVISION,
    IMPLANT_VIEW,
    PATIENT_VIEW,
    Curve,
    Group,
    RiskReport,
    RiskRow,
)
from regdash.reports.policy import Policy
from regdash.stats.aalen_johansen import aalen_johansen
from regdash.stats.events import GroupCounts
from regdash.stats.kaplan_meier import kaplan_meier
from regdash.stats.limits import ALL_HAD_IT, EXACT_BOUND, RiskAt
from regdash.stats.step_curve import RiskSet, StepCurve
from regdash.stats.years import days_in, years_in
from regdash.store.cuts import Cut
from regdash.store.event_counts import REASON_DETAIL, REASON_GROUP
from regdash.suggest import nearest
from regdash.vocabulary import coded

LONGEST_YEARS = 100.0
_NOTES = {EXACT_BOUND: wording.EXACT_BOUND, ALL_HAD_IT: wording.NO_LIMITS}


@dataclass(frozen=True)
class Endpoint:
    """The event whose risk is asked: any revision, or one reason by its group or in detail."""

    name: str = ANY_REVISION
    reason: str | None = None
    column: str = REASON_GROUP

    def curve(self, counts: GroupCounts, outcomes: Sequence[str], view: str) -> StepCurve:
        """Estimate its risk in one group."""
        if view == IMPLANT_VIEW:
            return kaplan_meier(counts.days, counts.revised, counts.left, counts.entered).steps
        causes = counts.competing  # died first, then each reason
        wanted = causes[:, 1:].sum(axis=1) if self.reason is None else counts.by_outcome[:, outcomes.index(self.reason)]
        by_cause = np.column_stack([wanted, causes.sum(axis=1) - wanted])
        return aalen_johansen(counts.days, by_cause, counts.left, counts.entered).of(0)


def endpoint_of(cut: Cut, reason: str | None) -> Endpoint:
    """
    Find the endpoint that a reason names, written as filters do or in words.

    Raises:
        FilterError: there is no such reason.
    """
    if reason is None:
        return Endpoint()
    asked = coded(reason.strip().lower())
    for column in (REASON_GROUP, REASON_DETAIL):
        for word in cut.words[f"{column}_words"]:
            if coded(word) == asked:
                return Endpoint(f"revision for {word}", word, column)
    choices = [coded(word) for word in (*cut.words["reason_group_words"], *cut.words["reason_words"])]
    raise FilterError(f"There is no reason {reason}. {nearest(asked, dict.fromkeys(choices), most=30)}")


def risk_report(
    cut: Cut,
    policy: Policy,
    cohort: Cohort,
    by: Sequence[Grouping] = (),
    years: Sequence[float] = (1, 5, 10, 15),
    view: str = IMPLANT_VIEW,
    reason: str | None = None,
) -> RiskReport:
    """
    Answer: which proportion is revised by so many years, by group?

    Args:
        years: times of the table, in any order.
        view: IMPLANT_VIEW for net risk, PATIENT_VIEW for cumulative incidence. One reason alone is
            always seen with everything else competing, so it implies the patient view.
        reason: a reason for revision, by group or in detail; None for any revision.

    Raises:
        FilterError: an outcome word in the cohort, an unknown view or reason, or years below 0.
    """
    endpoint = endpoint_of(cut, reason)
    view = PATIENT_VIEW if reason else checked_view(view)
    years = checked_years(years)
    counted = count(cut, cohort, by, endpoint.column)
    return assemble(counted, policy, endpoint, view, years)


def assemble(counted: Counted, policy: Policy, endpoint: Endpoint, view: str, years: tuple[float, ...]) -> RiskReport:
    """Make the report from a cohort that has been counted."""
    steps = [endpoint.curve(counted.table.of(n), counted.table.outcomes, view) for n in range(len(counted.groups))]
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
        head(counted, policy, measure, method, cautions, view=view, endpoint=endpoint.name),
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
