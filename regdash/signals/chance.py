"""Third step of a screen: what chance does where many units are tested, and what all units say about each."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regdash.signals.settings import CORRECTIONS
from regdash.stats.gamma_poisson import gamma_poisson
from regdash.stats.multiplicity import benjamini_hochberg, benjamini_yekutieli
from regdash.stats.screened import ScreenedRatio


@dataclass(frozen=True)
class Drawn:
    """One unit's ratio, drawn towards the others' of its pool and window."""

    ratio: float
    probability: float  # that the true ratio exceeds the stated one


def q_values(p: Sequence[float], correction: str) -> np.ndarray:
    """Find q over everything that one screen tested, whoever is called out."""
    find = benjamini_hochberg if correction == CORRECTIONS[0] else benjamini_yekutieli
    return find(np.array(p, dtype=float))


def drawn_ratios(ratios: Sequence[ScreenedRatio | None], stated: float) -> list[Drawn | None]:
    """
    Draw the adjusted ratios of one pool and window towards each other, as far as few events leave room.

    Events are taken as Poisson around those due at the hazard of all others, so that a unit without events has a
    ratio too, and events over due are the adjusted hazard ratio itself. None where nothing can be said to be due.
    """
    usable = [place for place, one in enumerate(ratios) if one is not None and one.due is not None and one.due > 0]
    found: list[Drawn | None] = [None] * len(ratios)
    if not usable:
        return found
    chosen = [ratios[place] for place in usable]
    events = np.array([one.events for one in chosen if one is not None])
    due = np.array([one.due for one in chosen if one is not None], dtype=float)
    for place, one in zip(usable, gamma_poisson(events, due).ratios(above=stated), strict=True):
        if one.ratio is not None and one.probability is not None:
            found[place] = Drawn(one.ratio, one.probability)
    return found
