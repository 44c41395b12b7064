"""Hospitals and surgeons: how many primaries each has, how they last, and how many of late; one against all others."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from regdash.cohort import Cohort
from regdash.endpoints import ANY_REVISION
from regdash.errors import FilterError
from regdash.fields import FIELDS
from regdash.grouping import Grouping
from regdash.reports import units_wording, wording
from regdash.reports.completeness import completeness_report
from regdash.reports.counted import Counted, count, count_unnamed, head
from regdash.reports.event import Event, event_of
from regdash.reports.model import IMPLANT_VIEW, Group, RiskReport
from regdash.reports.policy import Policy
from regdash.reports.rates import shown_rate
from regdash.reports.records import WORDS, Asked
from regdash.reports.risk import assemble, checked_view, checked_years, risk_row
from regdash.reports.unit_profile import HOSPITALS, KINDS, ProfilesReport, UnitProfile
from regdash.stats.poisson import revision_rate
from regdash.stats.years import days_in, years_in
from regdash.store.cuts import Cut
from regdash.store.event_counts import EventCounts
from regdash.store.sqlfiles import statement
from regdash.suggest import nearest
from regdash.vocabulary import NOT_RECORDED

MOST_UNITS = 20_000
OF_PATIENTS_AND_PLACES = frozenset(
    ("joint", "sex", "age", "asa", "bmi", "diagnosis", "implanted", "hospital", "region", "surgeon")
)
CAUTIONS = (units_wording.OF_THE_PRIMARY, units_wording.MANY_UNITS)

Numbers = tuple[int, ...]


@dataclass(frozen=True)
class _Volume:
    """What `queries/unit_volumes` says of one unit."""

    patients: int
    first_date: str
    last_date: str
    last_year: int


def profiles_report(
    cut: Cut,
    policy: Policy,
    kind: str,
    cohort: Cohort,
    apart: Sequence[Grouping] = (),
    years: float = 10.0,
    view: str = IMPLANT_VIEW,
    endpoint: str = ANY_REVISION.key,
) -> ProfilesReport:
    """
    Answer: what does each hospital, or each surgeon, do, and how do its primaries last?

    Args:
        kind: a key of KINDS.
        apart: the joint, where the cohort holds several.
        years: the time at which the risk is given.

    Raises:
        FilterError: an outcome word in the cohort, an unknown kind, view or endpoint, or years below 0.
    """
    unit = _field(kind)
    event, view, (year,) = event_of(cut, endpoint, None), checked_view(view), checked_years((years,))
    by = (*apart, unit)
    counted = count(cut, cohort, by, endpoint=event.endpoint, view=view, most=MOST_UNITS)
    volumes, partial = _volumes(counted), _partial_knees(cut, cohort, unit)
    complete = _completeness(cut, policy, cohort, apart) if kind == HOSPITALS else {}
    rows = [
        replace(
            _profile(policy, counted, number, event, view, year, volumes[counted.numbers[number]]),
            partial_share=_share(policy, *partial.get(counted.numbers[number][-1], (0, 0)))
            if _is_of_knees(counted, number)
            else None,
            completeness=complete.get(group.label),
        )
        for number, group in enumerate(counted.groups)
    ]
    method = wording.NET_RISK if view == IMPLANT_VIEW else wording.CUMULATIVE_INCIDENCE
    rates = wording.RATE if event.endpoint == ANY_REVISION else wording.RATE_OF_ENDPOINT
    method = f"{units_wording.UNITS} {method} {rates}{units_wording.PARTIAL_SHARE}"
    method += units_wording.COMPLETENESS if kind == HOSPITALS else ""
    deaths = wording.DEATHS_CENSORED if view == IMPLANT_VIEW else wording.DEATHS_COMPETE
    cautions = [*CAUTIONS, units_wording.VOLUME_LATE, deaths, wording.RATE_AVERAGES]
    measure = f"{kind}: counts, risk of revision and volume"
    alone = units_wording.NO_FINDING
    written = head(counted, policy, measure, method, cautions, view=view, endpoint=event.name, not_by_chance=alone)
    return ProfilesReport(written, kind, year, counted.groups, tuple(rows))


def _profile(
    policy: Policy, counted: Counted, number: int, event: Event, view: str, year: float, volume: _Volume
) -> UnitProfile:
    """Write one line; of few joints nothing is told but that they are few."""
    group, counts = counted.groups[number], counted.table.of(number)
    step = event.curve(counts, counted.table.outcomes, view)
    risk = risk_row(policy, group, year, step.at([days_in(year)], policy.level)[0], step.followed.last_day)
    rate = revision_rate(int(counts.revised.sum()), years_in(float(counts.implant_days)), policy.level)
    joints, followed, revisions, per_100, lower, upper, why_no_rate = shown_rate(policy, counts.joints, rate)
    few = policy.why_small(counts.joints, volume.patients)
    return UnitProfile(
        group=group.label,
        joints=joints,
        patients=None if few else volume.patients,
        revisions=revisions,
        years=year,
        at_risk=risk.at_risk,
        estimate=risk.estimate,
        lower=risk.lower,
        upper=risk.upper,
        implant_years=followed,
        per_100_implant_years=per_100,
        rate_lower=lower,
        rate_upper=upper,
        joints_last_365_days=None if few else policy.count(volume.last_year),
        partial_share=None,
        first_date=None if few else volume.first_date,
        last_date=None if few else volume.last_date,
        completeness=None,
        rate_withheld=why_no_rate,
        withheld=risk.withheld,
    )


def unit_risk_report(
    cut: Cut,
    policy: Policy,
    kind: str,
    code: str,
    cohort: Cohort,
    apart: Sequence[Grouping] = (),
    years: Sequence[float] = (1.0, 5.0, 10.0, 15.0),
    view: str = IMPLANT_VIEW,
    endpoint: str = ANY_REVISION.key,
) -> RiskReport:
    """
    Answer: how do the primaries of one hospital or surgeon last, beside those of all others?

    Raises:
        FilterError: as `profiles_report`, and where the cut knows no such code or the cohort holds no joint of it.
    """
    unit = _field(kind)
    event, view, times = event_of(cut, endpoint, None), checked_view(view), checked_years(years)
    known = cut.known[unit.field.key]
    code = _known(code, known, kind)
    by, own = (*apart, unit), known.index(code)
    found = count_unnamed(cut, cohort, by, endpoint=event.endpoint, view=view)
    if own not in {numbers[-1] for numbers in found.numbers}:
        raise FilterError(f"No joint that is asked about has its primary with {unit.field.key} {code}.")
    groups, counts = _beside_others(cut, cohort, by, found, own)
    report = assemble(Counted(cut, cohort, (), groups, counts, event.endpoint), policy, event, view, times)
    cautions = (units_wording.NO_FINDING, units_wording.OF_THE_PRIMARY, *report.head.cautions)
    return replace(report, head=replace(report.head, by=tuple(apart), cautions=cautions))


def _beside_others(
    cut: Cut, cohort: Cohort, by: Sequence[Grouping], found: EventCounts, own: int
) -> tuple[tuple[Group, ...], EventCounts]:
    """Put the joints of one unit first, and those of all others together behind them, for each joint by itself."""
    parts = [(numbers[:-1], numbers[-1] != own) for numbers in found.numbers]
    places = {joints: [g.place(v, cut.known) for g, v in zip(by, joints)] for joints, _ in parts}
    order = sorted(range(len(parts)), key=lambda n: (places[parts[n][0]], parts[n][1]))
    sorted_parts = [parts[n] for n in order]
    kept = list(dict.fromkeys(sorted_parts))
    place_of = {part: n for n, part in enumerate(kept)}
    part = np.array([place_of[each] for each in sorted_parts], dtype=np.int64)
    merged = found.ordered(order).merged(part, np.arange(len(kept))[:, None])
    return tuple(_part(cut, cohort, by, joints, own, is_other) for joints, is_other in kept), merged


def _part(cut: Cut, cohort: Cohort, by: Sequence[Grouping], joints: Numbers, own: int, is_other: bool) -> Group:
    *apart, unit = by
    named = [g.label(number, cut.known) for g, number in zip(apart, joints)]
    words = [g.word(number, cut.known) for g, number in zip(apart, joints)]
    word = unit.word(own, cut.known)
    word = word.replace("=", "!=", 1) if is_other else word
    code = cut.known[unit.field.key][own]
    return Group(", ".join([*named, "all others" if is_other else code]), cohort.narrowed(*words, word).words)


def _field(kind: str) -> Grouping:
    if kind not in KINDS:
        raise FilterError(f"There are no units {kind}. {nearest(kind, KINDS)}")
    return Grouping(FIELDS[KINDS[kind]])


def _known(code: str, known: Sequence[str], kind: str) -> str:
    by_word = {each.lower(): each for each in known} | {NOT_RECORDED.replace(" ", "-"): NOT_RECORDED}
    found = by_word.get(code.strip().lower())
    if found is None or found not in known:
        raise FilterError(f"There is no code {code} among the {kind} of this cut. {nearest(code, known)}")
    return found


def _volumes(counted: Counted) -> dict[Numbers, _Volume]:
    columns = "".join(f"{g.sql()} as g{n}, " for n, g in enumerate(counted.by))
    predicate = counted.predicate
    query = statement("queries/unit_volumes", grouping=columns, predicate=predicate.sql)
    through = counted.cut.manifest.through_date
    keys = len(counted.by)
    found = counted.cut.rows(query, **predicate.parameters, through=through)
    return {row[:keys]: _Volume(*row[keys:]) for row in found}


def _partial_knees(cut: Cut, cohort: Cohort, unit: Grouping) -> Mapping[int, tuple[int, int]]:
    """Partial knees and all knees of each unit, whatever the filter says of what was put in."""
    own = replace(cohort, conditions=tuple(c for c in cohort.conditions if c.key in OF_PATIENTS_AND_PLACES))
    predicate = own.predicate()
    query = statement("queries/partial_knees", grouping=f"{unit.sql()} as g0, ", predicate=predicate.sql)
    return {number: (partial, knees) for number, partial, knees in cut.rows(query, **predicate.parameters)}


def _is_of_knees(counted: Counted, number: int) -> bool:
    """Whether a group may hold knees: where joints are apart, its joint says so."""
    if len(counted.by) < 2:
        return True
    return counted.by[0].label(counted.numbers[number][0], counted.cut.known) == "knee"


def _share(policy: Policy, partial: int, knees: int) -> float | None:
    return None if not knees or policy.why_small(partial, knees - partial) else partial / knees


def _completeness(cut: Cut, policy: Policy, cohort: Cohort, apart: Sequence[Grouping]) -> dict[str, float | None]:
    """Completeness of primaries by group, where the groups are those of hospitals."""
    own = replace(cohort, conditions=tuple(c for c in cohort.conditions if c.key in WORDS))
    by = (*(g.field.key for g in apart), KINDS[HOSPITALS])
    report = completeness_report(cut, policy, Asked(own, by, "primary"))
    return {row.group: row.completeness for row in report.rows}
