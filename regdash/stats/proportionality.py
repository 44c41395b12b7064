"""Does a hazard ratio stay the same over time? A test of each term of a Cox model, and of all together."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from regdash.errors import ModelError
from regdash.stats.chi_square import ChiSquareTest, chi_square_test
from regdash.stats.cox import CoxFit

_DEPENDENT, _NOTHING = 1e-10, 1e-300  # share of information that is none; and a number that divides 0
Clock = Literal["km", "rank", "identity", "log"]


@dataclass(frozen=True)
class Proportionality:
    """Tests against coefficients that change with time, on the clock that was chosen."""

    clock: Clock
    terms: tuple[tuple[str, ChiSquareTest], ...]  # each term by itself, the others held proportional
    together: ChiSquareTest


def proportionality(fit: CoxFit, clock: Clock = "km") -> Proportionality:
    """
    Test whether coefficients b + c g(day) fit better than b: the score test of c = 0, with the whole information.

    Args:
        clock: g. "km" is 1 - Kaplan-Meier just before the day (each event counts about the same), "rank"
            the rank of the day among all ends of follow-up, "identity" the day, "log" its logarithm.

    Raises:
        ModelError: "log" where there are events on day 0, or too few days with events to see a change.

    Source:
        Grambsch & Therneau (1994), Biometrika 81:515-526; the exact score test, as R's survival does from 3.0 on.
    """
    likelihood, size = fit.scaled.likelihood, len(fit.coef)
    g = _on_clock(fit, clock)
    information = likelihood.information(fit.point, np.ones(len(g)), g, g**2)
    # What c is told beside b: the score of b is 0 at the fit.
    left = information[2] - information[1] @ np.linalg.solve(information[0], information[1])
    unit, score = np.sqrt(np.maximum(np.diag(information[2]), _NOTHING)), likelihood.score(fit.point, g)

    def tested(columns: np.ndarray) -> ChiSquareTest:
        within = (left / np.outer(unit, unit))[np.ix_(columns, columns)]
        if np.linalg.eigvalsh(within)[0] < _DEPENDENT:
            named = ", ".join(dict.fromkeys(np.array(fit.design.terms, dtype=object)[columns]))
            raise ModelError(f"Too few days have events to tell whether the ratio changes with time for {named}.")
        slope = (score / unit)[columns]
        return chi_square_test(float(slope @ np.linalg.solve(within, slope)), int(columns.sum()))

    terms = tuple((term, tested(fit.design.places(term))) for term in dict.fromkeys(fit.design.terms))
    return Proportionality(clock, terms, tested(np.ones(size, dtype=bool)))


def _on_clock(fit: CoxFit, clock: Clock) -> np.ndarray:
    """(m,) g of each event cell, less its mean over events, which changes no test and keeps digits."""
    cells = fit.scaled.likelihood.sets.cells
    if clock == "log" and np.any(cells.day == 0):
        raise ModelError("The logarithm of day 0 does not exist, and there are events on it. Take another clock.")
    if clock == "log":
        g = np.log(cells.day)
    elif clock == "identity":
        g = cells.day.astype(float)
    else:
        days, at_risk, events, left = fit.counts.by_day()
        free_before = np.insert(np.cumprod(1 - events / np.maximum(at_risk, 1)), 0, 1)[:-1]
        ranks = np.cumsum(left) - (left - 1) / 2
        g = (1 - free_before if clock == "km" else ranks)[np.searchsorted(days, cells.day)]
    centred = g - cells.events @ g / cells.events.sum()
    return centred / max(np.sqrt(cells.events @ centred**2 / cells.events.sum()), 1e-300)
