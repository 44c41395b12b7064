"""The difference in risk between two groups, reason by reason."""

from collections.abc import Sequence

import numpy as np

from regdash.cohort import Cohort
from regdash.endpoints import ANY_REVISION, named
from regdash.errors import FilterError
from regdash.grouping import Grouping
from regdash.reports import wording
from regdash.reports.counted import head
from regdash.reports.model import IMPLANT_VIEW, PATIENT_VIEW, GapReport, GapRow, Head, ShareRow
from regdash.reports.patterns import Patterns, count_patterns
from regdash.reports.policy import BESIDE_SMALL, Policy
from regdash.reports.reference import reference_of
from regdash.reports.risk import checked_view, checked_years
from regdash.stats.difference import DifferenceAt
from regdash.stats.events import FIRST_REASON, EventTable
from regdash.stats.gap import Gap, GapPart, gap_by_reason
from regdash.stats.kaplan_meier import kaplan_meier
from regdash.stats.shares import WITHOUT_END
from regdash.stats.years import days_in
from regdash.store.cuts import Cut
from regdash.store.event_counts import REASON_DETAIL, REASON_GROUP

ALL_REASONS = "all reasons"


def gap_report(
    cut: Cut,
    policy: Policy,
    cohort: Cohort,
    by: Sequence[Grouping],
    years: float = 10.0,
    view: str = IMPLANT_VIEW,
    detail: bool = False,
    reference: str | None = None,
    endpoint: str = ANY_REVISION.key,
) -> GapReport:
    """
    Answer: of the difference in risk between two groups by so many years, how much is due to each reason?

    Args:
        by: makes the groups, exactly two of them beside those that are not recorded.
        view: as `risk_report`; the parts add up to the difference in the same view.
        detail: reasons as surgeons recorded them, not in groups.
        reference: the group whose risk is taken off the other's, as `reference_of`; left out, the larger.
        endpoint: key or name of the endpoint, as `endpoints.named`; years are those of its clock.

    Raises:
        FilterError: an outcome word in the cohort, another number of groups than two, an unknown view, reference
            or endpoint, or a time that nobody can be followed to.
    """
    view = checked_view(view)
    (years,) = checked_years([years])
    column, event = REASON_DETAIL if detail else REASON_GROUP, named(endpoint)
    patterns = count_patterns(cut, cohort, by, (), column, endpoint=event, compete=view == PATIENT_VIEW)
    _refuse(patterns)
    place = reference_of(patterns.counted, patterns.numbers, patterns.joints_by_group.tolist(), reference)
    one, other = 1 - place, place
    table = patterns.merged(patterns.group, [group.label for group in patterns.groups])
    gap = gap_by_reason(
        table, one, other, days_in(years), "implant" if view == IMPLANT_VIEW else "patient", policy.level
    )
    labels = [group.label for group in patterns.groups]
    why = _why_not(policy, table, (one, other), gap.whole.day, labels)
    revised = _revised_by(table, (one, other), gap.whole.day)
    no_shares = gap.withheld or _why_no_shares(policy, revised, (one, other), labels)
    # A reason that nobody was revised for by then is no part of either risk.
    occurring = {name for name, counts in zip(table.outcomes[FIRST_REASON:], revised.T.tolist()) if any(counts)}
    rows = _rows(gap, occurring, why, no_shares, _small_reasons(policy, table, revised))
    return GapReport(
        head=_head(patterns, policy, view, bool(no_shares or why)),
        groups=(patterns.groups[one], patterns.groups[other]),
        years=years,
        rows=rows,
        shares=() if why or no_shares else _shares(gap, rows),
        left_out=patterns.left_out_by(policy),
    )


def _refuse(patterns: Patterns) -> None:
    labels = [group.label for group in patterns.groups]
    if len(labels) == 2:
        return
    if not patterns.counted.by:
        raise FilterError("A gap is between two groups. Group by a field, as in class.")
    between = "; " if any("," in label for label in labels) else ", "
    shown = between.join(labels[:6]) + (f" and {len(labels) - 6:,} more" if len(labels) > 6 else "")
    there = f"there are {len(labels):,}: {shown}" if len(labels) > 1 else f"there is one: {shown}"
    raise FilterError(
        f"A gap is between two groups, but {there if labels else 'there is none'}. Filter so that two are left, or "
        "group by another field."
    )


def _why_not(policy: Policy, table: EventTable, groups: tuple[int, int], day: int, labels: list[str]) -> str | None:
    """Say why the policy withholds the risk of either group, and with it the difference."""
    for number in groups:
        counts = table.of(number)
        followed = kaplan_meier(counts.days, counts.revised, counts.left).followed
        events = int(counts.revised[counts.days <= day].sum())
        why = policy.why_not_at(day, int(followed.at([day])[0]), followed.last_day, events)
        if why:
            return f"{labels[number]}: {why}"
    return None


def _revised_by(table: EventTable, groups: tuple[int, int], day: int) -> np.ndarray:
    """(2, reasons) revisions of both groups up to a day, by reason."""
    own = [(table.day <= day) & (table.group == number) for number in groups]
    size = len(table.outcomes)
    return np.stack([np.bincount(table.outcome[rows], table.joints[rows], size)[FIRST_REASON:] for rows in own]).astype(
        np.int64
    )


def _why_no_shares(policy: Policy, revised: np.ndarray, groups: tuple[int, int], labels: list[str]) -> str | None:
    """Say why a group has too few revisions for limits of shares, or None."""
    for number, events in zip(groups, revised.sum(axis=1).tolist()):
        if why := policy.why_few_events(events):
            return f"share: {why} in {labels[number]}"
    return None


def _small_reasons(policy: Policy, table: EventTable, revised: np.ndarray) -> dict[str, str]:
    """The reasons whose count of either group is withheld, or which hide another's in the total; and why."""
    hidden = policy.hidden_parts(revised).tolist()
    return {
        name: policy.why_small(*counts) or BESIDE_SMALL
        for name, counts, beside in zip(table.outcomes[FIRST_REASON:], revised.T.tolist(), hidden)
        if beside
    }


def _rows(
    gap: Gap, occurring: set[str], why: str | None, no_shares: str | None, small: dict[str, str]
) -> tuple[GapRow, ...]:
    """Write reasons by falling size of their part, those withheld last and unsorted, then all together."""
    if why or not gap.parts:
        return tuple(GapRow(name, *(None,) * 6, why or gap.withheld) for name in (*sorted(occurring), ALL_REASONS))
    parts = [part for part in gap.parts if part.reason in occurring]
    parts.sort(key=lambda part: (part.reason in small, 0 if part.reason in small else -abs(part.part.difference or 0)))
    whole = _row(ALL_REASONS, gap.whole, None if no_shares else 1.0, no_shares)
    return (*(_part_row(part, no_shares, small.get(part.reason)) for part in parts), whole)


def _part_row(part: GapPart, withheld: str | None, small: str | None) -> GapRow:
    """Write a reason; a share that limits cannot enclose is withheld by itself."""
    if small:
        return GapRow(part.reason, *(None,) * 6, small)
    if part.share is None or part.share.note == WITHOUT_END:
        return _row(part.reason, part.part, None, withheld or f"share: {WITHOUT_END}")
    return _row(part.reason, part.part, part.share.share, withheld)


def _row(reason: str, at: DifferenceAt, share: float | None, withheld: str | None) -> GapRow:
    return GapRow(reason, at.first, at.second, at.difference, at.lower, at.upper, share, withheld)


def _shares(gap: Gap, rows: tuple[GapRow, ...]) -> tuple[ShareRow, ...]:
    """Write the limits of shares in the order of the rows; all together needs none."""
    found = {part.reason: part.share for part in gap.parts if part.share is not None}
    shares = [(row.reason, found[row.reason]) for row in rows if row.reason in found and row.share is not None]
    return tuple(ShareRow(reason, share.share, share.lower, share.upper, share.note) for reason, share in shares)


def _head(patterns: Patterns, policy: Policy, view: str, withheld: bool) -> Head:
    cautions = [*patterns.cautions(policy), wording.PARTS_NEED_REASONS]
    cautions += [] if withheld else [wording.SHARES_VARY]
    cautions += [wording.DEATHS_CENSORED if view == IMPLANT_VIEW else wording.DEATHS_COMPETE]
    return head(
        patterns.counted,
        policy,
        "difference in the risk of revision, by reason",
        wording.GAP.format(view=wording.GAP_VIEWS[view]),
        cautions,
        view=view,
        endpoint=f"{patterns.counted.endpoint.name}, by leading reason",
    )
