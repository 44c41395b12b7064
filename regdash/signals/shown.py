"""What the policy shows of the figures that explain one implant."""

from collections.abc import Iterable, Sequence
from typing import Any

from regdash.reports.policy import Policy
from regdash.stats.risk_shares import ScreenedRatio

NOBODY_ALIKE = "no other joint that is like them is followed when one is revised"


def shown_ratio(
    policy: Policy,
    one: ScreenedRatio | None,
    others_events: int | None,
    names: Sequence[str],
    counts: Sequence[int] = (),
) -> tuple[dict[str, Any], str | None]:
    """
    Give a hazard ratio and its limits under three names, or None each, and say why.

    Args:
        others_events: of those that it is compared with; None where these are all others, as in a screen.
        counts: shown beside it, which would follow from it where they are small.
    """
    small = policy.why_small(*counts)
    few = None if one is None else policy.why_few_events(one.events)
    few_others = None if others_events is None else policy.why_few_events(others_events)
    why = small or (NOBODY_ALIKE if one is None else few or (few_others and f"{few_others} of others"))
    why = why or (None if one is None else one.ratio.note)
    figures = (None, None, None) if why or one is None else (one.ratio.ratio, one.ratio.lower, one.ratio.upper)
    return dict(zip(names, figures, strict=True)), why


def without(names: Iterable[str]) -> dict[str, Any]:
    """None under each name."""
    return dict.fromkeys(names)
