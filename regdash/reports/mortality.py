"""Mortality after the primary operation, by group: at chosen days, and as curves."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from regdash.cohort import Cohort, Predicate, either
from regdash.errors import FilterError
from regdash.grouping import Grouping
from regdash.reports import mortality_wording, wording
from regdash.reports.beside import as_groups, two_groups
from regdash.reports.counted import labelled, median_years, refuse_outcomes
from regdash.reports.model import Curve, Group
from regdash.reports.mortality_model import MortalityHead, MortalityReport, MortalityRow
from regdash.reports.policy import Policy
from regdash.reports.risk import curve
from regdash.stats.events import DIED, GroupCounts
from regdash.stats.kaplan_meier import kaplan_meier
from regdash.stats.limits import ALL_HAD_IT, EXACT_BOUND, RiskAt
from regdash.stats.step_curve import StepCurve
from regdash.stats.years import days_in, years_in
from regdash.store.cuts import Cut
from regdash.store.death_counts import count_deaths, deaths_known_through
from regdash.store.event_counts import EventCounts, GroupExpressions, count_events, count_patients

DEFAULT_DAYS = (30, 90, 365)
CHART_DAYS = (0, 30, 90, 180, 270, 365)  # at which the first year of a curve is read and has its operations at risk
LONGEST_DAYS = 36_525
_NOTES = {EXACT_BOUND: mortality_wording.NO_DEATH_YET, ALL_HAD_IT: mortality_wording.NO_LIMITS}


@dataclass(frozen=True, eq=False)
class Operations:
    """Operations of a cohort, counted by group, and all of them once."""

    cut: Cut
    cohort: Cohort
    beside: Cohort | None
    by: tuple[Grouping, ...]
    groups: tuple[Group, ...]
    counts: EventCounts  # by these groups
    once: EventCounts

    @property
    def predicate(self) -> Predicate:
        """The joints that were operated on."""
        return self.cohort.predicate() if self.beside is None else either(self.cohort, self.beside)

    @property
    def in_several(self) -> int:
        """In how many more groups than one operations count."""
        return self.counts.all_joints - self.once.all_joints

    @property
    def deaths(self) -> int:
        """Operations whose patient died within follow-up."""
        return int(self.once.joints[self.once.outcome == DIED].sum())

    @cached_property
    def joints(self) -> int:
        """Joints that were operated on."""
        return count_events(self.cut, self.predicate, GroupExpressions()).all_joints


def mortality_report(
    cut: Cut,
    policy: Policy,
    cohort: Cohort,
    by: Sequence[Grouping] = (),
    days: Sequence[int] = DEFAULT_DAYS,
    beside: Cohort | None = None,
) -> MortalityReport:
    """
    Answer: of which proportion of operations has the patient died by so many days, by group?

    Args:
        days: whole days since the operation, in any order; 0 is its own day.
        beside: a second cohort; the two are then the groups.

    Raises:
        FilterError: an outcome word in the cohort, days that nobody can be followed to, or groups beside two cohorts.
        StoreError: the cut has no feed of deaths.
    """
    days = checked_days(days)
    found = _counted(cut, cohort, tuple(by), beside)
    table = found.counts.table([group.label for group in found.groups])
    steps = [_estimated(table.of(n)) for n in range(len(found.groups))]
    read = [step.at(days, policy.level) for step in steps]
    rows = tuple(
        _row(policy, group.label, at, step.followed.last_day)
        for group, step, ats in zip(found.groups, steps, read, strict=True)
        for at in ats
    )
    shown = {at.note for at, row in zip((at for ats in read for at in ats), rows, strict=True) if row.withheld is None}
    notes = [sentence for note, sentence in _NOTES.items() if note in shown]
    curves = tuple(_curve(policy, group.label, step) for group, step in zip(found.groups, steps, strict=True))
    return MortalityReport(_head(found, policy, notes), found.groups, days, rows, curves)


def _counted(cut: Cut, cohort: Cohort, by: tuple[Grouping, ...], beside: Cohort | None) -> Operations:
    refuse_outcomes(cohort)
    if beside is not None:
        if by:
            raise FilterError("Two cohorts side by side are the groups; groups cannot be asked for as well.")
        groups = two_groups(cut, cohort, beside)
        cohorts = (cohort.predicate(), beside.predicate(), either(cohort, beside))
        first, second, once = (count_deaths(cut, one, GroupExpressions()) for one in cohorts)
        return Operations(cut, cohort, beside, (), groups, as_groups(first, second), once)
    once = count_deaths(cut, cohort.predicate(), GroupExpressions())
    grouped = count_deaths(cut, cohort.predicate(), GroupExpressions(tuple(g.sql() for g in by))) if by else once
    named = labelled(cut, cohort, by, grouped)
    return Operations(cut, cohort, None, by, named.groups, named.counts, once)


def _estimated(counts: GroupCounts) -> StepCurve:
    return kaplan_meier(counts.days, counts.by_outcome[:, DIED], counts.left).steps


def _row(policy: Policy, group: str, at: RiskAt, last_day: int | None) -> MortalityRow:
    """Write one line of the table, its estimate withheld where the policy says so, or where there is none."""
    why = policy.why_not_at(at.day, at.at_risk, last_day, at.events, of="operations")
    why = why or (at.note if at.risk is None else None)
    figures = (None, None, None) if why else (at.risk, at.lower, at.upper)
    return MortalityRow(group, at.day, policy.count(at.at_risk), policy.count(at.events), *figures, why)


def _curve(policy: Policy, name: str, step: StepCurve) -> Curve:
    """Draw a curve out, with its operations at risk by year, and more often in the first one."""
    drawn = curve(policy, name, step)
    if not drawn.at_risk:
        return drawn
    early = zip(map(years_in, CHART_DAYS), step.followed.at(CHART_DAYS).tolist(), strict=True)
    return replace(drawn, at_risk=tuple(sorted({**dict(early), **dict(drawn.at_risk)}.items())))


def _head(found: Operations, policy: Policy, notes: list[str]) -> MortalityHead:
    through = deaths_known_through(found.cut).isoformat()
    operations = found.once.all_joints
    small = policy.why_small(operations)
    return MortalityHead(
        measure=mortality_wording.MEASURE,
        cohort=found.cohort,
        by=found.by,
        cut=found.cut.name,
        operations=policy.count(operations),
        joints=None if small else policy.count(found.joints),
        patients=None if small else policy.count(count_patients(found.cut, found.predicate)),
        deaths=policy.count(found.deaths),
        deaths_known_through=through,
        median_follow_up=None if small else median_years(found.once),
        method=mortality_wording.METHOD,
        cautions=tuple(_cautions(found, policy, notes, through)),
        settings=policy.settings,
        beside=found.beside,
    )


def _cautions(found: Operations, policy: Policy, notes: list[str], through: str) -> list[str]:
    said = [] if found.once.all_joints else [mortality_wording.NO_OPERATIONS]
    said += [wording.NOT_CHOSEN_BY_CHANCE] if len(found.groups) > 1 else []
    said += [mortality_wording.WHO_GETS_IT, mortality_wording.known_through(through)]
    if found.in_several:
        cohorts = found.beside is not None
        said += [mortality_wording.in_several_groups(found.in_several, cohorts, policy.said)]
    said += [mortality_wording.OPERATED_AGAIN, mortality_wording.PRIMARIES_ALONE, *notes]
    said += [wording.counts_withheld(policy.withhold_counts_under)] if policy.withholds_counts else []
    return [*said, wording.NOT_FOR_ONE_PATIENT]


def checked_days(days: Sequence[int]) -> tuple[int, ...]:
    """Refuse days that nobody can be followed to, and put the rest in order."""
    if not days:
        raise FilterError("Mortality needs at least one number of days, as in 30,90,365")
    for day in days:
        if not 0 <= day <= LONGEST_DAYS:
            raise FilterError(f"{day:,} is not a number of days from 0 to {LONGEST_DAYS:,}. Write them as in 30,90,365")
    return tuple(sorted(set(days)))


def reading_days(horizon: float) -> tuple[int, ...]:
    """
    The days at which a curve to a horizon in years may be read, the horizon last.

    >>> reading_days(1.0), reading_days(3.0), reading_days(0.25)
    ((30, 90, 180, 270, 365), (30, 90, 180, 270, 365, 730, 1095), (30, 90, 91))
    """
    last = days_in(horizon)
    years = (days_in(year) for year in range(1, int(horizon) + 1))
    return tuple(sorted({day for day in (*CHART_DAYS[1:], *years) if day < last} | {last}))


def after(days: int) -> str:
    """
    Say days since the operation, whole years where they are that.

    >>> after(30), after(365), after(3652), after(0), after(1)
    ('30 days', '1 year', '10 years', 'day 0', '1 day')
    """
    years = round(years_in(days))
    if years and days_in(years) == days:
        return f"{years} year{'' if years == 1 else 's'}"
    return f"{days:,} day{'' if days == 1 else 's'}" if days else "day 0"
