"""What moved between two data cuts: each figure's difference, split into its causes, which add up to it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import accumulate, pairwise
from typing import Any

import numpy as np

from regdash import grouping
from regdash.cohort import Cohort
from regdash.errors import FilterError
from regdash.grouping import UNKNOWN, Grouping
from regdash.reports import changes_wording as wording
from regdash.reports.counted import refuse_outcomes
from regdash.reports.policy import Policy
from regdash.stats.kaplan_meier import kaplan_meier
from regdash.stats.years import days_in, years_in
from regdash.store.cuts import Cut
from regdash.store.two_cuts import STEPS, Move, TwoCuts

JOINTS, REVISIONS, YEARS, RISK = "joints", "revisions", "implant_years", "risk"
PARTS = ("definition_changes", "corrections", "links_undone", "new_links", "late_events", "new_events")
Cells = dict[tuple[int, bool], int]  # joints by day and whether revised


@dataclass(frozen=True)
class ChangesRow:
    """One figure of one group: before, after, and the parts of the difference in the order of the steps."""

    group: str
    figure: str  # joints, revisions, implant_years or risk
    years: float | None  # of a risk
    before: float | None
    definition_changes: float | None
    corrections: float | None
    links_undone: float | None
    new_links: float | None
    late_events: float | None
    new_events: float | None
    after: float | None
    withheld: str | None = None

    @property
    def parts(self) -> tuple[float | None, ...]:
        """The parts in their order."""
        return tuple(getattr(self, name) for name in PARTS)


@dataclass(frozen=True)
class ChangesHead:
    """What was asked, of which two cuts, how it was split, and how it may mislead."""

    measure: str
    cohort: Cohort
    by: tuple[Grouping, ...]
    earlier: str
    cut: str  # the later one
    method: str
    cautions: tuple[str, ...]
    settings: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class ChangesReport:
    """Every figure of every group, moved or not."""

    head: ChangesHead
    rows: tuple[ChangesRow, ...]


def changes_report(
    cut: Cut, two: TwoCuts, policy: Policy, earlier: str, cohort: Cohort, by: Sequence[Grouping], years: Sequence[float]
) -> ChangesReport:
    """
    Answer: what moved between the cuts, and why?

    Args:
        cut: the later one, whose lists order the groups; `two`: it and the earlier one.
        by: how joints are grouped, in each cut by what it says of them.
        years: times of the risks.

    Raises:
        FilterError: an outcome word in the cohort, or more groups than anybody can read.
    """
    refuse_outcomes(cohort)
    moves = two.moves(cohort.predicate(), [text_of(g) for g in by] or ["''"])
    of_place: dict[tuple[str, ...], list[Move]] = {}
    for move in moves:
        of_place.setdefault(move.place, []).append(move)
    groups = {place: _tables(own) for place, own in of_place.items()}
    if len(groups) > grouping.MOST_GROUPS:
        raise FilterError(f"There are {len(groups):,} groups, more than can be shown. Filter first, or group by less.")
    rows = [
        row
        for place in sorted(groups, key=lambda place: _order(cut, by, place))
        for row in _rows(policy, _label(by, place), groups[place], years)
    ]
    said = (wording.ONE_CAUSE, *([wording.OTHER_DEFINITIONS] if two.other_definitions else []))
    said += (wording.counts_withheld(policy.withhold_counts_under),) if policy.withholds_counts else ()
    head = ChangesHead("changes", cohort, tuple(by), earlier, cut.name, wording.CHANGES, said, policy.settings)
    return ChangesReport(head, tuple(rows))


def text_of(by: Grouping) -> str:
    """Say in SQL which group a joint is in, as a text that means the same in every cut."""
    if by.field.enum and by.field.enum != "boolean":
        return f"coalesce({by.field.column}::varchar, 'not recorded')"
    return f"({by.sql()})::varchar"


def _order(cut: Cut, by: Sequence[Grouping], place: Sequence[str]) -> list[tuple[bool, int, str]]:
    return [_order_of(g, word, cut) for g, word in zip(by, place)]


def _order_of(by: Grouping, word: str, cut: Cut) -> tuple[bool, int, str]:
    """Order words of lists as the lists do, codes by name, numbers as numbers; not recorded comes last."""
    if by.field.enum and by.field.enum != "boolean":
        choices = cut.known.get(by.field.key, ()) if by.field.kind != "code" else ()
        return word == "not recorded", choices.index(word) if word in choices else 0, word
    return int(word) == UNKNOWN, int(word), ""


def _label(by: Sequence[Grouping], place: Sequence[str]) -> str:
    words = [w if g.field.enum and g.field.enum != "boolean" else g.label(int(w), {}) for g, w in zip(by, place)]
    return ", ".join(words) or "all"


def _tables(moves: Iterable[Move]) -> list[Cells]:
    """Make the event table after each step from what each step moves."""
    steps: list[Cells] = [{} for _ in range(STEPS)]
    for move in moves:
        steps[move.step][move.day, move.is_revised] = move.joints
    return list(accumulate(steps, _added))


def _added(one: Cells, other: Cells) -> Cells:
    total = {cell: one.get(cell, 0) + other.get(cell, 0) for cell in one.keys() | other.keys()}
    return {cell: joints for cell, joints in total.items() if joints}


def _rows(policy: Policy, group: str, tables: list[Cells], years: Sequence[float]) -> list[ChangesRow]:
    joints = [sum(cells.values()) for cells in tables]
    revised = [sum(n for (_, is_revised), n in cells.items() if is_revised) for cells in tables]
    days = [sum(day * n for (day, _), n in cells.items()) for cells in tables]
    why = policy.why_small(joints[0], joints[-1], revised[0], revised[-1])
    small = [policy.why_small(*map(abs, _differences(counts))) for counts in (joints, revised)]
    return [
        _count_row(policy, group, JOINTS, joints, small[0]),
        _count_row(policy, group, REVISIONS, revised, small[1]),
        _row(
            group,
            YEARS,
            None,
            [float(years_in(d)) for d in days],
            [float(years_in(d)) for d in _differences(days)],
            why,
        ),
        *(_risk_row(policy, group, year, tables, small[0] or small[1]) for year in years),
    ]


def _differences(values: Sequence[Any]) -> list[Any]:
    return [after - before for before, after in pairwise(values)]


def _count_row(policy: Policy, group: str, figure: str, counts: list[int], why: str | None) -> ChangesRow:
    """A count; where a part is small and may not be shown, none is, and each cut's own count stands by itself."""
    before, after = policy.count(counts[0]), policy.count(counts[-1])
    return _written(group, figure, None, before, [None] * len(PARTS) if why else _differences(counts), after, why)


def _row(
    group: str, figure: str, years: float | None, values: list[float], parts: list[float], why: str | None
) -> ChangesRow:
    if why:
        return _written(group, figure, years, None, [None] * len(PARTS), None, why)
    return _written(group, figure, years, values[0], parts, values[-1], None)


def _written(
    group: str,
    figure: str,
    years: float | None,
    before: float | None,
    parts: Sequence[float | None],
    after: float | None,
    why: str | None,
) -> ChangesRow:
    named = dict(zip(PARTS, parts, strict=True))
    return ChangesRow(group=group, figure=figure, years=years, before=before, after=after, withheld=why, **named)


def _risk_row(policy: Policy, group: str, years: float, tables: list[Cells], why: str | None) -> ChangesRow:
    """A net risk: each part is what it moves by where one more cause is replaced, so that all add up."""
    day = days_in(years)
    found = [_risk_at(cells, day) for cells in tables]
    for _, at_risk, events, last in (found[0], found[-1]):
        why = why or policy.why_not_at(day, at_risk, last, events)
    values = [risk for risk, *_ in found]
    return _row(group, RISK, years, values, _differences(values), why)


def _risk_at(cells: Cells, day: int) -> tuple[float, int, int, int | None]:
    """Give the net risk by the end of a day, joints at risk, revisions by then, and the longest follow-up."""
    ends = sorted({end for end, _ in cells})
    revised = np.array([cells.get((end, True), 0) for end in ends], dtype=np.int64)
    left = revised + np.array([cells.get((end, False), 0) for end in ends], dtype=np.int64)
    curve = kaplan_meier(np.array(ends, dtype=np.int64), revised, left)
    # The last step on or before that day; between steps of a cause nobody may be followed so far.
    place = int(np.searchsorted(curve.days, day, side="right"))
    risk = float(curve.risk[place - 1]) if place else 0.0
    at_risk, events = int(curve.followed.at([day])[0]), int(curve.revised[:place].sum())
    return risk, at_risk, events, ends[-1] if ends else None
