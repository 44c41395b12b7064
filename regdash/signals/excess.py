"""Excess revisions by reason: observed less expected, adding up."""

from typing import Any

import numpy as np

from regdash.reports.policy import BESIDE_SMALL, Policy
from regdash.signals.explained_model import ALL_REASONS, ExcessRow
from regdash.signals.one_implant import OneImplant
from regdash.stats.excess_by_cause import Excess, OthersHazard

_COUNTS = ("revisions", "expected", "excess", "others_revisions")
_LIMITS = ("lower", "upper", "ratio", "ratio_lower", "ratio_upper")


def excess_rows(policy: Policy, implant: OneImplant, hazard: OthersHazard) -> tuple[ExcessRow, ...]:
    """
    Write a line for each reason that its joints or others have, by falling excess, and one for all of them.

    Limits are withheld where fewer revisions of others than the policy asks for stand behind what is expected; the
    excess is not, so that lines add up.
    """
    parts, whole = hazard.excess(len(implant.reasons), policy.level)
    occurring = [place for place, part in enumerate(parts) if part.observed or part.others]
    counts = np.array([[parts[place].observed for place in occurring]], dtype=np.int64)
    hidden = policy.hidden_parts(counts).tolist() if occurring else []
    named = [(implant.reasons[place], parts[place]) for place in occurring]
    rows = [
        _row(policy, name, part, BESIDE_SMALL if beside else None)
        for (name, part), beside in zip(named, hidden, strict=True)
    ]
    order = sorted(range(len(rows)), key=lambda place: (rows[place].excess is None, -named[place][1].excess))
    return (*(rows[place] for place in order), _row(policy, ALL_REASONS, whole, None))


def _row(policy: Policy, reason: str, part: Excess, beside: str | None) -> ExcessRow:
    small = policy.why_small(part.observed, part.others) or beside
    few = None
    if part.support < policy.minimum_events:
        few = f"what is expected rests on fewer than {policy.minimum_events} revisions of others"
    counts: dict[str, Any] = dict(zip(_COUNTS, (part.observed, part.expected, part.excess, part.others), strict=True))
    figures = (part.lower, part.upper, part.ratio, part.ratio_lower, part.ratio_upper)
    limits: dict[str, Any] = dict(zip(_LIMITS, figures, strict=True))
    return ExcessRow(
        reason=reason,
        withheld=small or few,
        **(dict.fromkeys(_COUNTS) if small else counts),
        **(dict.fromkeys(_LIMITS) if small or few else limits),
    )
