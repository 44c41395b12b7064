"""What was done: primaries and revisions by the year, quarter or month of the operation itself."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

import numpy as np

from regdash.cohort import SAY_INSTEAD, Cohort
from regdash.errors import FilterError, NothingDoneError
from regdash.fields import FIELDS
from regdash.grouping import MOST_GROUPS, Grouping
from regdash.reports import done_wording as wording
from regdash.reports.done_asked import DoneAsked
from regdash.reports.done_groups import NO_PRIMARY_NUMBER, OF_REVISION, PERIODS, Period
from regdash.reports.done_model import ActivityReport, ActivityRow, DoneHead
from regdash.reports.model import Group
from regdash.reports.policy import Policy
from regdash.stats.binomial import binomial_limits
from regdash.store.cuts import Cut
from regdash.store.revisions_done import revisions_done
from regdash.store.sqlfiles import statement
from regdash.suggest import nearest
from regdash.values import Range, read

MEASURE = "operations done"
DONE = "--done"  # the option that names periods


@dataclass(frozen=True)
class _Counts:
    """Operations of one group in one period."""

    primaries: int = 0
    revisions: int = 0
    first: int = 0
    later: int = 0
    unlinked: int = 0
    second_stages: int = 0
    uncounted: int = 0


Numbers = tuple[int, ...]
Counted = dict[Numbers, dict[int, _Counts]]  # by group, then by period


def activity_report(
    cut: Cut,
    policy: Policy,
    cohort: Cohort,
    by: Sequence[Grouping] = (),
    per: str = "year",
    done: str = "",
) -> ActivityReport:
    """
    Answer: how many primaries and revisions were done, by group and period, and how many more than a year before?

    Args:
        per: year, quarter or month.
        done: periods that are shown, as a filter writes dates: 2024, 2020..2024, 2023Q1,2024Q1; all if left out.

    Raises:
        FilterError: a word on revisions alone, an unknown period, dates that hold none whole, or too many groups.
    """
    period = _period(per)
    _refuse(cohort)
    asked = DoneAsked(cut, cohort, tuple(by))
    found = _counted(asked, period)
    if len(found) > MOST_GROUPS:
        raise FilterError(f"There are {len(found):,} groups, more than the {MOST_GROUPS:,} that can be shown.")
    shown = _shown(found, period, _dates(done))
    through = date.fromisoformat(cut.manifest.through_date)
    groups = [Group(asked.names.label(one), cohort.narrowed(*(asked.names.words(one) or ())).words) for one in found]
    rows = tuple(
        _row(policy, group.label, numbers, counts, period, number, through)
        for group, (numbers, counts) in zip(groups, found.items())
        for number in shown
    )
    total = [counts.get(number, _Counts()) for counts in found.values() for number in shown]
    return ActivityReport(_head(policy, asked, wording.ACTIVITY, total, found), per, tuple(groups), rows)


def _period(per: str) -> Period:
    if per not in PERIODS:
        raise FilterError(f"Operations are not counted by {per}. {nearest(per, PERIODS, most=len(PERIODS))}")
    return PERIODS[per]


def _refuse(cohort: Cohort) -> None:
    for key in cohort.outcome_keys:
        if key in OF_REVISION:
            raise FilterError(
                f"{key} speaks of revisions alone, and these are primaries too: ask `regdash revisions`. To choose "
                f"when they were done, write {DONE} 2024."
            )
        raise FilterError(f"{SAY_INSTEAD}, and {key} is known later.")


def _dates(done: str) -> list[Range]:
    dates = [read(FIELDS["revised"], part.strip()) for part in done.split(",") if part.strip()]
    return [one for one in dates if isinstance(one, Range)]


def _counted(asked: DoneAsked, period: Period) -> Counted:
    """Count all periods: a change needs the year before too."""
    said = asked.predicate
    query = statement(
        "queries/activity",
        grouping=asked.grouping,
        period=period.sql(),
        predicate=said.sql,
        of_revisions=asked.judged,
        revisions=revisions_done()[0],
    )
    keys = len(asked.by)
    rows = sorted(asked.cut.rows(query, **said.parameters), key=lambda row: (asked.names.place(row[:keys]), row[keys]))
    return {
        numbers: {row[keys]: _Counts(*map(int, row[keys + 1 :])) for row in own}
        for numbers, own in groupby(rows, key=lambda row: tuple(row[:keys]))
    }


def _shown(found: Counted, period: Period, dates: list[Range]) -> list[int]:
    """
    List the periods between the first and the last with an operation, or those of them that the dates hold whole.

    Raises:
        NothingDoneError: the dates hold none whole.
    """
    numbers = [number for counts in found.values() for number in counts]
    every = list(range(min(numbers), max(numbers) + 1)) if numbers else []
    if not dates:
        return every
    shown = [number for number in every if any(_within(period, number, one) for one in dates)]
    if not shown and every:
        first, last = period.label(every[0], {}), period.label(every[-1], {})
        written = ",".join(one.text for one in dates)
        raise NothingDoneError(
            f"{DONE} {written} holds no {period.field.key} of these operations whole; they were done from {first} to "
            f"{last}."
        )
    return shown


def _within(period: Period, number: int, dates: Range) -> bool:
    first, last = period.days(number)
    return (dates.lower is None or first >= dates.lower) and (dates.upper is None or last <= dates.upper)  # type: ignore[operator]


def _head(policy: Policy, asked: DoneAsked, method: str, shown: list[_Counts], found: Counted) -> DoneHead:
    def total(name: str) -> int:
        return sum(getattr(one, name) for one in shown)

    apart = any(NO_PRIMARY_NUMBER in numbers for numbers in found)
    cautions = [
        wording.LATEST_GROW,
        *([wording.unlinked_apart(total("unlinked"), policy.said)] if apart and total("unlinked") else []),
        *asked.cautions(policy, DONE),
        wording.NOT_THOSE_OF_RISKS,
        *([wording.second_stages(total("second_stages"), policy.said)] if total("second_stages") else []),
        *([wording.uncounted(total("uncounted"), policy.said)] if total("uncounted") else []),
    ]
    counts = (total("primaries"), total("revisions"), total("unlinked"))
    return asked.head(policy, MEASURE, method, cautions, counts)


def _row(
    policy: Policy,
    group: str,
    numbers: Numbers,
    counts: dict[int, _Counts],
    period: Period,
    number: int,
    through: date,
) -> ActivityRow:
    own, before = counts.get(number, _Counts()), counts.get(number - period.in_a_year, _Counts())
    parts = np.array([[own.first, own.later, own.unlinked]])
    hidden = policy.hidden_parts(parts)[: parts.shape[1]].tolist()
    first, later, unlinked = (None if hide else policy.count(int(n)) for hide, n in zip(hidden, parts[0]))
    why = _why_no_burden(policy, own, NO_PRIMARY_NUMBER in numbers)
    burden = (None, None, None) if why else _burden(own, policy.level)
    is_over = period.days(number)[1] <= through
    changes, why_none = _changes(policy, own, before, period, is_over)
    return ActivityRow(
        group=group,
        period=period.label(number, {}),
        primaries=policy.count(own.primaries),
        primaries_change=changes[0],
        revisions=policy.count(own.revisions),
        revisions_change=changes[1],
        first=first,
        later=later,
        unlinked=unlinked,
        second_stages=policy.count(own.second_stages),
        burden=burden[0],
        lower=burden[1],
        upper=burden[2],
        change_withheld=why_none,
        withheld=why,
    )


def _why_no_burden(policy: Policy, own: _Counts, is_unlinked: bool) -> str | None:
    if small := policy.why_small(own.primaries, own.revisions):
        return small
    if is_unlinked:
        return "the primaries of these revisions are not here"
    return None if own.primaries + own.revisions else "no operation"


def _burden(own: _Counts, level: float) -> tuple[float, float, float]:
    every = own.primaries + own.revisions
    lower, upper = binomial_limits(np.array([own.revisions]), np.array([every]), level)
    return own.revisions / every, float(lower[0]), float(upper[0])


def _changes(
    policy: Policy, own: _Counts, before: _Counts, period: Period, is_over: bool
) -> tuple[tuple[float | None, float | None], str | None]:
    """Give the changes of primaries and revisions on the year before, and why either is missing."""
    if not is_over:
        return (None, None), f"the {period.field.key} is not over by the through-date"
    found, whys = [], []
    for name in ("primaries", "revisions"):
        now, then = getattr(own, name), getattr(before, name)
        small = policy.why_small(now, then)
        found.append(None if small or not then else now / then - 1)
        whys += [small or f"no {name} in {wording.before(period.field.key)}"] if found[-1] is None else []
    return (found[0], found[1]), "; ".join(dict.fromkeys(whys)) or None
