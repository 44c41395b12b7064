"""Why joints are revised: counts by reason, and each reason's cumulative incidence with everything else competing."""

from collections.abc import Sequence

import numpy as np

from regdash import endpoints
from regdash.cohort import Cohort
from regdash.endpoints import ANY_REVISION
from regdash.errors import FilterError
from regdash.grouping import Grouping
from regdash.reports import wording
from regdash.reports.beside import count_beside
from regdash.reports.counted import Counted, count, head
from regdash.reports.model import PATIENT_VIEW, Curve, Group, ReasonRow, ReasonsReport
from regdash.reports.policy import BESIDE_SMALL, Policy
from regdash.reports.risk import checked_years, curve
from regdash.stats.aalen_johansen import aalen_johansen
from regdash.stats.events import FIRST_REASON
from regdash.stats.step_curve import StepCurve
from regdash.stats.years import days_in
from regdash.store.cuts import Cut
from regdash.store.event_counts import REASON_DETAIL, REASON_GROUP


def reasons_report(
    cut: Cut,
    policy: Policy,
    cohort: Cohort,
    by: Sequence[Grouping] = (),
    years: float = 10.0,
    detail: bool = False,
    endpoint: str = ANY_REVISION.key,
    beside: Cohort | None = None,
) -> ReasonsReport:
    """
    Answer: why are joints revised, and how often for each reason by so many years?

    Args:
        years: time of the incidences.
        detail: reasons as surgeons recorded them, not in groups.
        endpoint: key or name of the endpoint, as `endpoints.named`: why its events happen.
        beside: a second cohort; the two are then the groups.

    Raises:
        FilterError: an outcome word in the cohort, an unknown endpoint, or a time that nobody can be followed to.
    """
    (years,) = checked_years([years])
    column = REASON_DETAIL if detail else REASON_GROUP
    if beside is not None:
        if by:
            raise FilterError("Two cohorts side by side are the groups; no others can be asked for as well.")
        two = count_beside(cut, cohort, beside, column, endpoint=endpoints.named(endpoint), view=PATIENT_VIEW)
        return assemble(two, policy, years)
    counted = count(cut, cohort, by, column, endpoint=endpoints.named(endpoint), view=PATIENT_VIEW)
    return assemble(counted, policy, years)


def assemble(counted: Counted, policy: Policy, years: float) -> ReasonsReport:
    """Make the report from a cohort that has been counted, in the patient view."""
    occurring_by_group = _occurring(counted)
    rows: list[ReasonRow] = []
    curves: list[tuple[str, tuple[Curve, ...]]] = []
    for number, group in enumerate(counted.groups):
        counts, occurring = counted.table.of(number), occurring_by_group[number]
        risk = aalen_johansen(counts.days, counts.competing, counts.left)
        steps = [risk.of(outcome - 1) for outcome in occurring]  # its causes are the outcomes from 1, death, on
        revisions = counts.by_outcome.sum(axis=0)
        hidden = policy.hidden_parts(revisions[np.array(occurring, dtype=np.int64)][None]).tolist()
        found = [
            _row(counted, policy, group, step, outcome, revisions, years, BESIDE_SMALL if beside else None)
            for step, outcome, beside in zip(steps, occurring, hidden)
        ]
        order = sorted(range(len(found)), key=lambda n: (-(found[n].incidence or 0), -(found[n].revisions or 0)))
        rows += [found[n] for n in order]
        drawn = [curve(policy, found[n].reason, steps[n]) for n in order]
        curves.append((group.label, tuple(drawn)))
    cautions = [wording.DEATHS_COMPETE, wording.SHARES_SHIFT]
    written = head(
        counted,
        policy,
        "cumulative incidence of revision by reason",
        wording.CUMULATIVE_INCIDENCE,
        cautions,
        view=PATIENT_VIEW,
        endpoint=f"{counted.endpoint.name}, by leading reason",
    )
    return ReasonsReport(written, counted.groups, years, tuple(rows), tuple(curves))


def weight_of(report: ReasonsReport) -> int:
    """How many numbers are in its curves, for an answer that is remembered: as many as a count has rows of three."""
    return sum(4 * len(curve.days) for _, curves in report.curves for curve in curves) // 3


def _occurring(counted: Counted) -> list[list[int]]:
    """For each group the reasons, as outcomes, that occur among all groups of its joint: others the joint lacks."""
    place = next((n for n, grouping in enumerate(counted.by) if grouping.field.key == "joint"), None)
    joints = np.array([0 if place is None else numbers[place] for numbers in counted.numbers], dtype=np.int64)
    joint_of_cell = joints[counted.table.group]
    found = {
        joint: [int(n) for n in np.unique(counted.table.outcome[joint_of_cell == joint]) if n >= FIRST_REASON]
        for joint in set(joints.tolist())
    }
    return [found[joint] for joint in joints.tolist()]


def _row(
    counted: Counted,
    policy: Policy,
    group: Group,
    step: StepCurve,
    outcome: int,
    revisions: np.ndarray,
    years: float,
    beside: str | None,
) -> ReasonRow:
    """
    Write one reason's line.

    Args:
        step: its cumulative incidence.
        beside: it hides another reason's small count, or is small itself.
    """
    (at,) = step.at([days_in(years)], policy.level)
    own, every = int(revisions[outcome]), int(revisions[FIRST_REASON:].sum())
    small = policy.why_small(own, every) or beside
    why = small or policy.why_not_at(at.day, at.at_risk, step.followed.last_day, at.events)
    incidence, lower, upper = (None, None, None) if why else (at.risk, at.lower, at.upper)
    return ReasonRow(
        group=group.label,
        reason=counted.table.outcomes[outcome],
        years=years,
        at_risk=policy.count(at.at_risk),
        revisions=None if beside else policy.count(own),
        share=own / every if every and not small else None,
        incidence=incidence,
        lower=lower,
        upper=upper,
        withheld=why,
    )
