"""Third step of a screen: what chance does where many units are tested, and what all units say about each."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regdash.signals.settings import CORRECTIONS
from regdash.stats.gamma_poisson import gamma_poisson_of_groups
from regdash.stats.multiplicity import benjamini_hochberg, benjamini_yekutieli
from regdash.stats.risk_shares import ScreenedRatio


@dataclass(frozen=True)
class Drawn:
    """One unit's ratio, drawn towards the others' of its pool and window."""

    ratio: float
    probability: float  # that the true ratio exceeds the stated one


def q_values(p: Sequence[float] | np.ndarray, correction: str) -> np.ndarray:
    """Find q over everything that one screen tested, whoever is called out."""
    find = benjamini_hochberg if correction == CORRECTIONS[0] else benjamini_yekutieli
    return find(np.array(p, dtype=float))


def drawn_ratios(pools: Sequence[Sequence[ScreenedRatio | None]], stated: float) -> list[list[Drawn | None]]:
    """
    Draw the adjusted ratios of each pool and window towards each other, as far as few events leave room.

    Events are taken as Poisson around those due at the hazard of all others, so that a unit without events has a
    ratio too, and events over due are the adjusted hazard ratio itself. None where nothing can be said to be due.

    Args:
        pools: the ratios of each pool and window.
    """
    usable = [[place for place, one in enumerate(ratios) if one is not None and one.due] for ratios in pools]
    found: list[list[Drawn | None]] = [[None] * len(ratios) for ratios in pools]
    some = [number for number, places in enumerate(usable) if places]
    chosen = [one for number in some for one in (pools[number][place] for place in usable[number]) if one is not None]
    if not chosen:
        return found
    events, due = np.array([one.events for one in chosen]), np.array([one.due for one in chosen], dtype=float)
    fits = gamma_poisson_of_groups(events, due, [len(usable[number]) for number in some])
    for number, fit in zip(some, fits, strict=True):
        drawn = zip(*(each.tolist() for each in fit.means_and_tails(stated)), strict=True)
        for place, one in zip(usable[number], drawn, strict=True):
            found[number][place] = Drawn(*one)
    return found
