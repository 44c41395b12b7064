"""Revisions that were done: by leading reason, and by what was done and used, in groups that may be periods."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np

from regdash.cohort import Cohort
from regdash.errors import FilterError
from regdash.grouping import MOST_GROUPS, Grouping
from regdash.reports import done_wording as wording
from regdash.reports.apart import JOINT
from regdash.reports.done_asked import DoneAsked
from regdash.reports.done_model import DoneHead, RevisionReasonRow, RevisionsReport, RevisionWorkRow
from regdash.reports.model import Group
from regdash.reports.period_years import PeriodYears, period_years
from regdash.reports.policy import BESIDE_SMALL, Policy
from regdash.stats.binomial import binomial_limits
from regdash.stats.poisson import revision_rate
from regdash.store.cuts import Cut
from regdash.store.revisions_done import revisions_done
from regdash.store.sqlfiles import statement
from regdash.vocabulary import EXTRAS, NOT_RECORDED

MEASURE = "revisions done"
DONE, USED = "done", "used"
_USED = {"stem": "a stem", "augment": "an augment", "graft": "bone graft"}
ANY_EXTRA = "any of these"
FIRST_ALONE = "sequence = 1"  # in SQL: the first revision of a joint that is registered here

Numbers = tuple[int, ...]


@dataclass(frozen=True, eq=False)
class _Found:
    """Revisions of one group: each array has a place a kind of revision, `revisions` how many there are of it."""

    numbers: Numbers
    reason: np.ndarray  # (k,) place in the list of reasons, -1 for none
    action: np.ndarray  # (k,) place in the list of actions
    extras: np.ndarray  # (k, 3) bool: a stem, an augment, bone graft
    counted: np.ndarray  # (k,) bool: they ended their joint's follow-up
    linked: np.ndarray  # (k,) bool: they have a primary here
    revisions: np.ndarray  # (k,) int

    def of(self, which: np.ndarray) -> int:
        """Count those of a kind."""
        return int(self.revisions[which].sum())

    @property
    def all(self) -> int:
        """All of the group."""
        return int(self.revisions.sum())


def revisions_report(
    cut: Cut,
    policy: Policy,
    cohort: Cohort,
    by: Sequence[Grouping] = (),
    detail: bool = False,
    first: bool = False,
) -> RevisionsReport:
    """
    Answer: what were revisions done for, and what was done at them?

    Args:
        cohort: words on the primary, and on the revision itself: revised, reason, action, stem, augment, graft.
        by: as `done_groups.parse` reads it.
        detail: reasons as surgeons record them, not in groups.
        first: first revisions of registered joints alone.

    Raises:
        FilterError: more groups than anybody can read.
    """
    asked = DoneAsked(cut, cohort, tuple(by), (FIRST_ALONE,) if first else ())
    column = "reason" if detail else "reason_group"
    words = (*cut.words[f"{column}_words"], NOT_RECORDED)
    found = _counted(asked, column)
    if len(found) > MOST_GROUPS:
        raise FilterError(f"There are {len(found):,} groups, more than the {MOST_GROUPS:,} that can be shown.")
    groups = [
        Group(asked.names.label(one.numbers), cohort.narrowed(*(asked.names.words(one.numbers) or ())).words)
        for one in found
    ]
    years = period_years(asked)
    rows = _reason_rows(policy, asked, groups, found, words, years)
    actions = cut.words["action_words"]
    work = _all_work_rows(policy, asked, groups, found, actions)
    return RevisionsReport(_head(policy, asked, found, years, len(groups) == 2), tuple(groups), rows, work)


def _counted(asked: DoneAsked, column: str) -> list[_Found]:
    said = asked.predicate
    query = statement(
        "queries/revision_counts",
        grouping=asked.grouping,
        reason=column,
        predicate=f"{said.sql} and {asked.judged}",
        revisions=revisions_done()[0],
    )
    keys = len(asked.by)
    rows = sorted(asked.cut.rows(query, **said.parameters), key=lambda row: (asked.names.place(row[:keys]), row[keys:]))
    return [
        _found(numbers, np.array([row[keys:] for row in own], dtype=np.int64))
        for numbers, own in groupby(rows, key=lambda row: tuple(row[:keys]))
    ]


def _found(numbers: Numbers, cells: np.ndarray) -> _Found:
    reason, action, *extras, counted, linked, revisions = cells.T
    return _Found(numbers, reason, action, np.array(extras).T > 0, counted > 0, linked > 0, revisions)


# Why they were done


def _reason_rows(
    policy: Policy,
    asked: DoneAsked,
    groups: Sequence[Group],
    found: Sequence[_Found],
    words: Sequence[str],
    years: PeriodYears,
) -> tuple[RevisionReasonRow, ...]:
    """Write a line for each group and reason that its joint's revisions had, in one order for all of its groups."""
    last = words.index(NOT_RECORDED)
    rows: list[RevisionReasonRow] = []
    for group, one in zip(groups, found):
        rows += _of_group(policy, group, one, _order(_alike(asked, one, found), words, last), last, years)
    return tuple(_with_difference(rows, groups[0].label) if len(groups) == 2 else rows)


def _alike(asked: DoneAsked, one: _Found, found: Sequence[_Found]) -> list[_Found]:
    """The groups of the same joint, which share their lists of reasons and of what was done."""
    joint = next((n for n, by in enumerate(asked.by) if by.field == JOINT), None)
    return [other for other in found if joint is None or other.numbers[joint] == one.numbers[joint]]


def _order(alike: Sequence[_Found], words: Sequence[str], last: int) -> list[tuple[int, str]]:
    """List the reasons that occur, the most frequent first and those not recorded last."""
    totals = np.zeros(len(words))
    for one in alike:
        totals += np.bincount(_placed(one.reason, last), one.revisions, len(words))
    occurring = np.flatnonzero(totals).tolist()
    return [(n, words[n]) for n in sorted(occurring, key=lambda n: (n == last, -totals[n], words[n]))]


def _placed(reason: np.ndarray, last: int) -> np.ndarray:
    return np.where(reason < 0, last, reason)


def _of_group(
    policy: Policy, group: Group, one: _Found, order: Sequence[tuple[int, str]], last: int, years: PeriodYears
) -> list[RevisionReasonRow]:
    reason = _placed(one.reason, last)
    counts = np.array([[one.of(reason == n) for n, _ in order]], dtype=np.int64)
    hidden = policy.hidden_parts(counts).tolist()
    every = one.all - one.of(reason == last)
    return [
        _reason_row(policy, group.label, word, one, reason == n, None if n == last else every, hide, years)
        for (n, word), hide in zip(order, hidden)
    ]


def _reason_row(
    policy: Policy,
    group: str,
    word: str,
    one: _Found,
    which: np.ndarray,
    every: int | None,
    beside: bool,
    years: PeriodYears,
) -> RevisionReasonRow:
    own, counted = one.of(which), one.of(which & one.counted)
    rest = () if every is None else (every, every - own)
    small = policy.why_small(own, *rest) or (BESIDE_SMALL if beside else None)
    why = small or ("shares are of revisions with a reason" if every is None else None)
    share = (None, None, None) if why or not every else _share(own, every, policy.level)
    followed = years.of(one.numbers)
    no_years = years.why or (None if followed else wording.NO_YEARS)
    no_rate = small or policy.why_small(counted, own - counted) or no_years
    rate = None if no_rate or not followed else revision_rate(counted, followed, policy.level)
    return RevisionReasonRow(
        group=group,
        reason=word,
        revisions=None if beside or policy.why_small(*rest) else policy.count(own),
        of=None if every is None else policy.count(every),
        share=share[0],
        lower=share[1],
        upper=share[2],
        difference=None,
        first=None if beside or policy.why_small(counted, own - counted) else counted,
        implant_years=followed or None,
        per_100_implant_years=rate.per_100_years if rate else None,
        rate_lower=rate.lower if rate else None,
        rate_upper=rate.upper if rate else None,
        rate_withheld=no_rate,
        withheld=why,
    )


def _share(events: int, of: int, level: float) -> tuple[float, float, float]:
    lower, upper = binomial_limits(np.array([events]), np.array([of]), level)
    return events / of, float(lower[0]), float(upper[0])


def _with_difference(rows: Sequence[RevisionReasonRow], first: str) -> list[RevisionReasonRow]:
    """Put beside each share of the second of two groups how far it is from that of the first."""
    shares = {row.reason: row.share for row in rows if row.group == first}
    found = []
    for row in rows:
        then = shares.get(row.reason)
        differs = row.group != first and row.share is not None and then is not None
        found.append(replace(row, difference=(row.share or 0.0) - (then or 0.0)) if differs else row)
    return found


# What was done


def _all_work_rows(
    policy: Policy, asked: DoneAsked, groups: Sequence[Group], found: Sequence[_Found], actions: Sequence[str]
) -> tuple[RevisionWorkRow, ...]:
    """Write a line for each group and thing that was done at its joint's revisions, in one order for all its groups."""
    rows: list[RevisionWorkRow] = []
    for group, one in zip(groups, found):
        totals = np.zeros(len(actions))
        for other in _alike(asked, one, found):
            totals += np.bincount(other.action, other.revisions, len(actions))
        order = sorted(np.flatnonzero(totals).tolist(), key=lambda n: (-totals[n], actions[n]))
        rows += _work_rows(policy, group.label, one, [(n, actions[n]) for n in order])
    return tuple(rows)


def _work_rows(policy: Policy, group: str, one: _Found, order: Sequence[tuple[int, str]]) -> list[RevisionWorkRow]:
    done = [(one.of(one.action == n), action) for n, action in order]
    hidden = policy.hidden_parts(np.array([[count for count, _ in done]], dtype=np.int64)).tolist()
    used = [(one.of(one.extras[:, n]), _USED[name]) for n, name in enumerate(EXTRAS)]
    used.append((one.of(np.asarray(one.extras.any(axis=1))), ANY_EXTRA))
    return [
        *(_work_row(policy, group, DONE, what, count, one.all, hide) for (count, what), hide in zip(done, hidden)),
        *(_work_row(policy, group, USED, what, count, one.all, False) for count, what in used),
    ]


def _work_row(
    policy: Policy, group: str, kind: str, what: str, count: int, every: int, beside: bool
) -> RevisionWorkRow:
    why = policy.why_small(count, every, every - count) or (BESIDE_SMALL if beside else None)
    share = (None, None, None) if why or not every else _share(count, every, policy.level)
    shown = None if beside or policy.why_small(every - count) else policy.count(count)
    share_of, lower, upper = share
    return RevisionWorkRow(group, kind, what, shown, policy.count(every), share_of, lower, upper, why)


def _head(policy: Policy, asked: DoneAsked, found: Sequence[_Found], years: PeriodYears, is_two: bool) -> DoneHead:
    revisions, linked = sum(one.all for one in found), sum(one.of(one.linked) for one in found)
    method = wording.REVISIONS.format(rates=wording.NO_RATES.format(why=years.why) if years.why else wording.RATES)
    cautions = [
        wording.NOT_RISKS,
        *([wording.NO_DIFFERENCE_LIMITS] if is_two else []),
        *asked.cautions(policy, "revised="),
        wording.LATEST_GROW,
    ]
    return asked.head(policy, MEASURE, method, cautions, (None, revisions, revisions - linked))
