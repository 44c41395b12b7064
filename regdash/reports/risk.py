"""The revision risk of a cohort by group: at chosen years, and as curves."""

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import chain

import numpy as np

from regdash.cohort import Cohort
from regdash.endpoints import ANY_REVISION
from regdash.errors import FilterError
from regdash.grouping import Grouping
from regdash.reports import wording
from regdash.reports.beside import count_beside
from regdash.reports.ceiling import ceiling_rows, margin_rows, refuse_bars
from regdash.reports.clustered import checked_cluster
from regdash.reports.counted import Counted, count, head
from regdash.reports.estimated import (
    PLAIN,
    Estimated,
    How,
    after_landmark,
    at_landmark,
    crude,
    difference_rows,
    standardised,
)
from regdash.reports.event import Event, event_of
from regdash.reports.missing import missing_revisions, refuse_missing
from regdash.reports.model import (
    IMPLANT_VIEW,
    PATIENT_VIEW,
    Curve,
    Group,
    RiskReport,
    RiskRow,
)
from regdash.reports.patterns import count_patterns
from regdash.reports.policy import Policy
from regdash.reports.reference import reference_of
from regdash.stats.limits import ALL_HAD_IT, EXACT_BOUND, RiskAt
from regdash.stats.standardised_risk import EXACT_STRATA
from regdash.stats.step_curve import RiskSet, StepCurve
from regdash.stats.years import days_in, years_in
from regdash.store.cuts import Cut
from regdash.suggest import nearest

LONGEST_YEARS = 100.0
NOTHING = np.empty(0)
NO_CURVE = Curve("", NOTHING, NOTHING, NOTHING, NOTHING, last_day=0, at_risk=())
_NOTES = {EXACT_BOUND: wording.EXACT_BOUND, EXACT_STRATA: wording.EXACT_STRATA, ALL_HAD_IT: wording.NO_LIMITS}


def risk_report(
    cut: Cut,
    policy: Policy,
    cohort: Cohort,
    by: Sequence[Grouping] = (),
    years: Sequence[float] = (1, 5, 10, 15),
    view: str = IMPLANT_VIEW,
    reason: str | None = None,
    endpoint: str = ANY_REVISION.key,
    how: How = PLAIN,
    beside: Cohort | None = None,
) -> RiskReport:
    """
    Answer: which proportion is revised by so many years, by group?

    Args:
        years: times of the table, in any order.
        view: IMPLANT_VIEW for net risk, PATIENT_VIEW for cumulative incidence. One reason alone is
            always seen with everything else competing, so it implies the patient view.
        reason: a reason for revision, by group or in detail; None for whatever reason.
        endpoint: key or name of the endpoint, as `endpoints.named`; years are those of its clock.
        how: differences between groups, a landmark, standardisation, verdicts against a ceiling or a margin.
        beside: a second cohort; the two are then the groups.

    Raises:
        FilterError: an outcome word in the cohort, an unknown view, reason, endpoint or reference, years below 0, or
            none after the landmark, or a ceiling or margin that is none.
    """
    refuse_bars(how)
    _refuse_cluster(how)
    event = event_of(cut, endpoint, reason)
    refuse_missing(how, event)
    view = PATIENT_VIEW if reason else checked_view(view)
    years = after_landmark(checked_years(years), how.given_unrevised)
    if beside is not None:
        _refuse_beside(by, how)
        two = count_beside(cut, cohort, beside, event.column, endpoint=event.endpoint, view=view)
        if two.in_both and (how.difference or how.margin is not None):
            raise FilterError(
                f"{wording.in_both(two.in_both, policy.said)} Keep the two apart, as with != in one of them."
            )
        return assemble(two, policy, event, view, years, how)
    if not how.standardise:
        counted = count(cut, cohort, by, event.column, endpoint=event.endpoint, view=view)
        return assemble(counted, policy, event, view, years, how)
    own = {g.field.key for g in by}
    fields = tuple(g for g in how.standardise if g.field.key not in own)
    if not fields:
        said = wording.fields([g.field.key for g in how.standardise])
        raise FilterError(
            f"Groups are made by {said} already, so nothing is left to standardise for. Name other fields."
        )
    compete = view == PATIENT_VIEW
    patterns = count_patterns(cut, cohort, by, fields, event.column, endpoint=event.endpoint, compete=compete)
    found = standardised(patterns, policy, event, view, years, how.given_unrevised)
    alike = wording.fields([g.field.key for g in fields])
    cautions = [wording.standardised_to(patterns.joints, alike, policy.said), *patterns.cautions(policy)]
    report = _report(patterns.counted, policy, event, view, years, replace(how, standardise=fields), found, cautions)
    return replace(report, left_out=patterns.left_out_by(policy))


def _refuse_beside(by: Sequence[Grouping], how: How) -> None:
    asked = {
        "groups": bool(by),
        "standardised risks": bool(how.standardise),
        "errors of patients": how.cluster is not None,
        "missing revisions": how.missing is not None,
        "a landmark": how.given_unrevised is not None,
    }
    if named := [name for name, is_asked in asked.items() if is_asked]:
        raise FilterError(f"Two cohorts side by side are the groups; {named[0]} cannot be asked for as well.")


def _refuse_cluster(how: How) -> None:
    checked_cluster(how.cluster)
    if how.cluster and how.standardise:
        raise FilterError("Errors of patients are not made for standardised risks. Leave out one of the two.")
    if how.cluster and how.margin is not None:
        raise FilterError("Errors of patients are not made for a margin. Leave out one of the two.")


def assemble(
    counted: Counted, policy: Policy, event: Event, view: str, years: tuple[float, ...], how: How = PLAIN
) -> RiskReport:
    """Make the report from a cohort that has been counted for the event's endpoint and in that view."""
    table = at_landmark(counted.table, how.given_unrevised)
    found = crude(counted, table, policy, event, view, years, how)
    return _report(counted, policy, event, view, years, how, found, [])


def _report(
    counted: Counted,
    policy: Policy,
    event: Event,
    view: str,
    years: tuple[float, ...],
    how: How,
    found: Estimated,
    cautions: list[str],
) -> RiskReport:
    rows = tuple(
        risk_row(policy, group, year, at, last_day, event.why_never(group))
        for group, last_day, ats in zip(found.groups, found.last_days, found.read)
        for year, at in zip(years, ats)
    )
    missing = missing_revisions(counted, found.groups, rows, years, view, how)
    shown = [at for row, at in zip(rows, chain.from_iterable(found.read)) if row.withheld is None]
    notes = {at.note for at in shown}
    said = [*cautions, *_landmark_said(counted, policy, how)]
    said += [wording.DEATHS_CENSORED if view == IMPLANT_VIEW else wording.DEATHS_COMPETE]
    said += [_NOTES[note] for note in _NOTES if note in notes]
    said += [wording.pairs(found.clustered.pairs, policy.said)] if found.clustered else []
    said += [] if how.ceiling is None and how.margin is None else [wording.VERDICTS]
    said += [] if how.margin is None else [wording.BEST_OF_MANY]
    said += [wording.missing(missing.share, missing.hospitals)] if missing else []
    written = head(
        counted,
        policy,
        _measure(view, how),
        _method(view, how),
        said,
        view=view,
        endpoint=event.name,
        not_by_chance=_not_by_chance(how),
    )
    drawn = tuple(
        replace(NO_CURVE, group=group.label) if event.why_never(group) else curve(policy, group.label, step)
        for group, step in zip(found.groups, found.steps)
    )
    reference = _reference(counted, found, how) if how.difference or how.margin is not None else 0
    return RiskReport(
        head=written,
        groups=found.groups,
        years=years,
        rows=rows,
        curves=drawn,
        differences=difference_rows(found, rows, reference, years) if how.difference else (),
        mix=found.mix,
        ceilings=ceiling_rows(found, rows, how),
        margins=margin_rows(found, rows, reference, years, how),
        missing=missing,
        at_least=None if how.ceiling is None and how.margin is None else how.at_least,
    )


def _reference(counted: Counted, found: Estimated, how: How) -> int:
    """Find the group that the others are compared with: the one that was named, else the one with most joints."""
    places = [counted.groups.index(group) for group in found.groups]
    joints = np.bincount(counted.table.group, counted.table.joints, len(counted.groups))[places].tolist()
    return reference_of(counted, places, joints, how.reference) if places else 0


def _measure(view: str, how: How) -> str:
    measure = "net revision risk" if view == IMPLANT_VIEW else "cumulative incidence of revision"
    standardised = "standardised " if how.standardise else ""
    landmark = how.given_unrevised
    given = "" if landmark is None else f", given unrevised at {landmark:g} year{'' if landmark == 1 else 's'}"
    return f"{standardised}{measure}{given}"


def _method(view: str, how: How) -> str:
    method = wording.NET_RISK if view == IMPLANT_VIEW else wording.CUMULATIVE_INCIDENCE
    difference = wording.DIFFERENCE
    if how.standardise:
        method, difference = method + wording.STANDARDISED, wording.DIFFERENCE_STANDARDISED
    method += wording.CLUSTERED if how.cluster else ""
    method += difference if how.difference else ""
    method += wording.CLUSTERED_DIFFERENCE if how.cluster and how.difference else ""
    method += "" if how.ceiling is None else wording.ceiling(how.ceiling, how.at_least)
    return method + ("" if how.margin is None else wording.margin(how.margin, how.at_least))


def _not_by_chance(how: How) -> str:
    keys = [g.field.key for g in how.standardise]
    return wording.adjusted_only_for(wording.fields(keys)) if keys else wording.NOT_CHOSEN_BY_CHANCE


def _landmark_said(counted: Counted, policy: Policy, how: How) -> list[str]:
    if how.given_unrevised is None:
        return []
    followed = int(at_landmark(counted.table, how.given_unrevised).joints.sum())
    return [wording.landmark(how.given_unrevised, followed, counted.joints, policy.said)]


def risk_row(
    policy: Policy, group: Group, years: float, at: RiskAt, last_day: int | None, never: str | None = None
) -> RiskRow:
    """Write one line of the table, its estimate withheld where the policy says so, or where there is none."""
    why = never or policy.why_not_at(at.day, at.at_risk, last_day, at.events) or (at.note if at.risk is None else None)
    estimate, lower, upper = (None, None, None) if why else (at.risk, at.lower, at.upper)
    counts = (policy.count(at.at_risk), policy.count(at.events))
    return RiskRow(group.label, years, *counts, estimate, lower, upper, why)


def curve(policy: Policy, name: str, step: StepCurve) -> Curve:
    """Draw out a step curve up to the last day on which the policy allows an estimate; empty where it never does."""
    whole = step.curve(policy.level)
    last_day = policy.last_allowed(step.followed.days, step.followed.at_risk)
    shown = whole.days <= last_day
    return Curve(
        group=name,
        days=whole.days[shown],
        estimate=whole.risk[shown],
        lower=whole.lower.filled(np.nan)[shown],
        upper=whole.upper.filled(np.nan)[shown],
        last_day=max(last_day, 0),
        at_risk=() if policy.withholds_counts else _at_risk_by_year(step.followed),
    )


@lru_cache(8)  # the curves of one group's reasons share who is followed
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
                f"{year:g} is not a time in years. Write numbers from 0 to {LONGEST_YEARS:.0f}, as in 1,5,10"
            )
    return tuple(sorted(dict.fromkeys(float(year) for year in years)))
