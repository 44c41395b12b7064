"""What must not follow from an edition: small counts of others, and figures that give them away."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from regdash.reports.model import ReasonRow, RiskRow
from regdash.reports.policy import Policy


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
        figures = (None, None, None) if why else (row.estimate, row.lower, row.upper)
        kept.append(RiskRow(row.group, row.years, None, None, *figures, why))
    return kept


def _why_risk(policy: Policy, row: RiskRow, last: int) -> str | None:
    if row.at_risk is None or row.revisions is None:
        return why_hidden(policy)
    small = policy.why_small(row.at_risk, row.revisions, row.revisions - last)
    return why_hidden(policy) if small else None


def reasons_of_others(policy: Policy, rows: Sequence[ReasonRow]) -> list[ReasonRow]:
    """
    Keep of one group's reasons those that give no small count away; counts and shares go in any case.

    Incidences of all reasons add up to the risk: beside a small one the smallest others are withheld, as the policy
    says of parts of a total.
    """
    counts = [row.revisions for row in rows]
    if not rows or any(number is None for number in counts):
        hidden = [True] * len(rows)
    else:
        hidden = policy.hidden_parts(np.array([counts], dtype=np.int64)).tolist()
    kept = []
    for row, goes in zip(rows, hidden, strict=True):
        goes = goes or row.at_risk is None or policy.why_small(row.at_risk) is not None
        why = why_hidden(policy) if goes else row.withheld
        bare = replace(row, at_risk=None, revisions=None, share=None)
        kept.append(replace(bare, incidence=None, lower=None, upper=None, withheld=why) if why else bare)
    return sorted(kept, key=lambda row: (-1.0, "") if row.incidence else (0.0, row.reason))  # no order that tells
