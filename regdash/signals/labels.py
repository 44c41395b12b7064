"""Last step of a screen: a label in words, that is no verdict."""

from functools import cache

import numpy as np

from regdash.signals.model import LOOK_CLOSER, NOTHING_UNUSUAL, TOO_FEW
from regdash.signals.settings import ScreenSettings
from regdash.stats.poisson import poisson_limits
from regdash.stats.risk_shares import ScreenedRatio


def label(settings: ScreenSettings, found: ScreenedRatio | None, q: float | None, level: float) -> str:
    """
    Say what to do with a unit: it is a signal, a high ratio is ruled out, or neither.

    That no signal is found does not show that there is nothing: only an upper limit can.
    """
    if found is None or q is None:
        return TOO_FEW
    if q <= settings.q:
        return LOOK_CLOSER
    upper = upper_limit(found, level)
    return NOTHING_UNUSUAL if upper is not None and upper <= settings.ruled_out_ratio else TOO_FEW


def upper_limit(found: ScreenedRatio, level: float) -> float | None:
    """The upper limit of a hazard ratio; without events that of a Poisson count of none, over the events due."""
    if found.events or not found.due:
        return found.ratio.upper
    return _upper_of_none(level) / found.due


@cache
def _upper_of_none(level: float) -> float:
    return float(poisson_limits(np.array([0]), level)[1][0])
