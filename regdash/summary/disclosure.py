"""What must not follow from an edition: small counts of others, and figures that give them away."""

from collections.abc import Sequence

import numpy as np

from regdash.errors import CountError
from regdash.reports.model import ReasonRow, RiskRow
from regdash.reports.policy import Policy
from regdash.summary.suppression import suppressed

DECIMALS = 3  # of proportions: a tenth of a per cent


def why_hidden(policy: Policy) -> str:
    """
    Say why a figure is withheld from a recipient: the same words whatever the cause, since the cause would tell more.

    >>> why_hidden(Policy(withhold_counts_under=5))
    'a count of 1 to 4, or a figure that would tell one'
    """
    return f"a count of 1 to {policy.withhold_counts_under - 1}, or a figure that would tell one"


def risks_of_others(policy: Policy, rows: Sequence[RiskRow]) -> list[RiskRow]:
    """
    Keep of one group's risks, time after time, those that give no small count away; counts go in any case.

    A risk and its limits tell the revisions up to a time nearly as well as their number. Two of them tell the
    revisions in between, as steps of a curve do: a figure goes where those since the last figure that stays are few.

    Args:
        rows: of one group, by rising years.
    """
    kept: list[RiskRow] = []
    last = 0
    for row in rows:
        why = _why_risk(policy, row, last) or row.withheld
        if why is None and row.revisions is not None:
            last = row.revisions
        figures = [None if why else rounded(figure) for figure in (row.estimate, row.lower, row.upper)]
        kept.append(RiskRow(row.group, row.years, None, None, figures[0], figures[1], figures[2], why))
    return kept


def _why_risk(policy: Policy, row: RiskRow, last: int) -> str | None:
    if row.at_risk is None or row.revisions is None:
        return why_hidden(policy)
    small = policy.why_small(row.at_risk, row.revisions, row.revisions - last)
    return why_hidden(policy) if small else None


def reasons_of_others(
    policy: Policy, width: int, rows: Sequence[ReasonRow], counts: Sequence[int], one_goes: bool = False
) -> list[ReasonRow]:
    """
    Keep of one group's reasons those that give no small count away; counts and shares go in any case.

    Args:
        width: between the ends of the interval of numbers that a small count can be, at the least.
        rows: in the order in which they are shown; what goes stands last, in the order of names.
        counts: revised for each by the time of the incidences, which tell these, and not those of all follow-up.
        one_goes: whether their total must not be told, so that one reason goes at the least.

    Returns:
        None at all where each would be told too closely whatever goes: that a reason is named tells that it occurs.
    """
    hidden = hidden_reasons(policy, width, counts, sum(counts))
    if not is_wide(width, counts, hidden):
        return []
    if one_goes and any(counts) and not any(hidden):
        hidden[min((number, place) for place, number in enumerate(counts) if number)[1]] = True
    why, kept = why_hidden(policy), []
    for row, goes in zip(rows, hidden, strict=True):
        if goes or row.at_risk is None or policy.why_small(row.at_risk):
            kept.append(ReasonRow(row.group, row.reason, row.years, None, None, None, None, None, None, why))
        else:
            figures = rounded(row.incidence), rounded(row.lower), rounded(row.upper)
            kept.append(ReasonRow(row.group, row.reason, row.years, None, None, None, *figures, row.withheld))
    gone = sorted((row for row, goes in zip(kept, hidden) if goes), key=lambda row: row.reason)
    return [*(row for row, goes in zip(kept, hidden) if not goes), *gone]


def is_wide(width: int, counts: Sequence[int], hidden: Sequence[bool]) -> bool:
    """
    Whether parts of a known total that go can each be any number of an interval so wide.

    >>> is_wide(4, [1, 2, 1, 1], [True] * 4), is_wide(4, [30, 5, 4], [False, True, True])
    (False, True)
    """
    gone = [number for number, goes in zip(counts, hidden) if goes]
    return not gone or (len(gone) > 1 and sum(gone) - len(gone) >= width)


def rounded(figure: float | None) -> float | None:
    """Give programs a figure as people read it: all its digits would tell the counts that it is made of."""
    return None if figure is None else round(figure, DECIMALS)


def hidden_reasons(policy: Policy, width: int, counts: Sequence[int | None], total: int | None) -> list[bool]:
    """
    Say which parts of a total go: small ones, and the smallest others beside them.

    What goes adds up to the total less what stays, each at least 1: of n parts that add up to s each is from 1 to
    s - n + 1, an interval s - n wide.

    >>> hidden_reasons(Policy(withhold_counts_under=5), 4, [30, 8, 4, 1, 0], 43)
    [False, True, True, True, False]
    """
    hidden = [number is None or policy.count(number) is None for number in counts]
    if any(hidden) and total is None:
        return [number != 0 for number in counts]
    while any(hidden) and total is not None:
        left = total - sum(number or 0 for number, goes in zip(counts, hidden) if not goes)
        if sum(hidden) > 1 and left - sum(hidden) >= width:
            break
        others = [(number, n) for n, (number, goes) in enumerate(zip(counts, hidden)) if number and not goes]
        if not others:
            break
        hidden[min(others)[1]] = True
    return hidden


def reasons_beside_others(own: Sequence[int], others: Sequence[int], under: int, width: int) -> list[bool] | None:
    """
    Say which reasons go where a group's counts and those of all others add up to what is known of both together.

    Args:
        own, others: revisions for each reason; both add up to totals that are told.

    Returns:
        For each reason whether it goes from both groups; None where a small count is told whatever goes.

    >>> reasons_beside_others([30, 8, 2, 0], [90, 40, 60, 50], 5, 4)
    [False, True, True, False]
    """
    cells = np.array([own, others], dtype=np.int64)
    table = np.zeros((3, len(own) + 1), dtype=np.int64)
    table[:-1, :-1] = cells
    table[:-1, -1], table[-1, :-1], table[-1, -1] = cells.sum(axis=1), cells.sum(axis=0), cells.sum()
    known = np.zeros(table.shape, dtype=bool)
    known[:, -1], known[-1, :] = True, (table[-1] == 0) | (table[-1] >= under)
    try:
        hidden = suppressed(table, [], under, width, known=known).hidden
    except CountError:
        return None
    return np.any(hidden[:, :-1], axis=0).tolist()
