"""What each risk would be if a stated share of all revisions were missing, at random or from the worst hospitals."""

from collections.abc import Sequence

import numpy as np

from regdash import grouping
from regdash.endpoints import ANY_REVISION
from regdash.errors import FilterError
from regdash.reports import wording
from regdash.reports.counted import Counted, count
from regdash.reports.estimated import How
from regdash.reports.event import Event
from regdash.reports.missing_row import Missing, MissingRow
from regdash.reports.model import PATIENT_VIEW, Group, RiskRow
from regdash.stats.missing_events import ExpectedCounts, more_for, together, with_missing
from regdash.stats.years import days_in

EXPECTED_AT_LEAST = 5.0  # revisions that a hospital would have at the cohort's rate, else its rate says little


def refuse_missing(how: How, event: Event) -> None:
    """
    Refuse what missing revisions are not worked out for.

    Raises:
        FilterError: a share that is none, another endpoint, one reason, standardisation or a landmark.
    """
    if how.missing is None:
        if how.missing_from_worst is not None:
            raise FilterError("Which hospitals revisions are missing from is asked with the share that is missing.")
        return
    if not 0 < how.missing < 1:
        raise FilterError(
            f"A share of missing revisions lies between 0 and 100 %, and {100 * how.missing:g} % does not."
        )
    if event.endpoint != ANY_REVISION or event.reason is not None:
        raise FilterError("Missing revisions are added for any revision, not for one endpoint or reason alone.")
    if how.standardise or how.given_unrevised is not None:
        raise FilterError("Missing revisions are added to plain risks since day 0. Leave out the other one.")


def missing_revisions(
    counted: Counted, groups: Sequence[Group], rows: Sequence[RiskRow], years: Sequence[float], view: str, how: How
) -> Missing | None:
    """
    Work out each risk as if a share of revisions were missing; a risk that is withheld stays so.

    Args:
        groups: those that risks are shown of.
        rows: one a group and time, in this order.

    Raises:
        FilterError: fewer hospitals can be compared than were asked for.
    """
    if how.missing is None:
        return None
    worst = () if how.missing_from_worst is None else _worst(counted, how.missing_from_worst)
    expected = _expected(counted, how.missing, worst)
    days = [days_in(year) for year in years]
    found = [expected[group.label].risk_at(days, compete=view == PATIENT_VIEW).tolist() for group in groups]
    risks = [risk for of_group in found for risk in of_group]
    shown = tuple(
        MissingRow(row.group, row.years, row.estimate, None if row.withheld else risk, row.withheld)
        for row, risk in zip(rows, risks, strict=True)
    )
    return Missing(how.missing, worst, shown)


def _expected(counted: Counted, share: float, worst: tuple[str, ...]) -> dict[str, ExpectedCounts]:
    if not worst:
        more = share / (1 - share)
        return {group.label: with_missing(counted.table.of(n), more) for n, group in enumerate(counted.groups)}
    codes = ",".join(worst)
    parts = [_part(counted, f"hospital={codes}"), _part(counted, f"hospital!={codes}")]
    more = more_for(share, counted.revisions, parts[0].revisions)
    found: dict[str, list[ExpectedCounts]] = {}
    for part, extra in zip(parts, (more, 0.0)):
        for number, group in enumerate(part.groups):
            found.setdefault(group.label, []).append(with_missing(part.table.of(number), extra))
    return {label: together(of_group) for label, of_group in found.items()}


def _part(counted: Counted, word: str) -> Counted:
    narrowed = counted.cohort.narrowed(word, known=counted.cut.known)
    return count(counted.cut, narrowed, counted.by, view=PATIENT_VIEW)


def _worst(counted: Counted, wanted: int) -> tuple[str, ...]:
    """
    Find the hospitals with the fewest revisions per implant-year: where reports are missing, too few are seen.

    Only those count that would have at least EXPECTED_AT_LEAST at the rate of all, and have one at least.
    """
    of_all = count(counted.cut, counted.cohort, grouping.parse("hospital"), view=PATIENT_VIEW)
    each = [of_all.table.of(number) for number in range(len(of_all.groups))]
    days = np.array([one.implant_days for one in each], dtype=float)
    revised = np.array([one.revised.sum() for one in each], dtype=float)
    expected = days * revised.sum() / max(days.sum(), 1)
    usable = np.flatnonzero((expected >= EXPECTED_AT_LEAST) & (revised > 0))
    if len(usable) < wanted:
        raise FilterError(
            f"Only {wording.so_many(len(usable), 'hospital')} of this cohort would have {EXPECTED_AT_LEAST:g} "
            f"revisions or more at the rate of all, so the {wanted} worst cannot be told. Ask for fewer, or for a "
            "wider cohort."
        )
    order = usable[np.argsort(revised[usable] / days[usable], kind="stable")]
    return tuple(of_all.groups[n].label for n in order[:wanted])
