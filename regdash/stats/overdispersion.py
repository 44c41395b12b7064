"""How much more units differ than chance alone would have it, and what limits that allow for it are like."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from regdash.errors import ModelError
from regdash.stats.chi_square import ChiSquareTest, chi_square_test
from regdash.stats.targets import Target, checked_observed

Allowance = Literal["multiplicative", "additive"]
FEW_UNITS = "fewer than 20 units: their spread is not known well"


@dataclass(frozen=True)
class Overdispersion:
    """The spread of units around a target, on the scale that makes chance's own spread the same everywhere."""

    units: int  # those with something expected of them
    phi_raw: float  # mean square of z; about 1 where units differ by chance alone
    phi: float  # the same, the most extreme z pulled in
    low: float  # z below it are taken as it
    high: float  # z above it are taken as it
    tau_squared: float  # variance between units, beyond chance, on that scale
    test: ChiSquareTest  # of no more spread than chance's, nothing pulled in
    note: str | None = None

    def deviations(self, target: Target, allowance: Allowance) -> np.ndarray:
        """(m,) standard deviation of each unit around the target, chance's own or more; never less."""
        if allowance == "multiplicative":
            return target.deviation * np.sqrt(max(self.phi, 1.0))
        if allowance == "additive":
            return np.sqrt(target.deviation**2 + self.tau_squared)
        raise ValueError(f"Spread between units is allowed for as multiplicative or additive, not as {allowance}.")

    def z(self, target: Target, observed: np.ndarray, allowance: Allowance) -> np.ndarray:
        """(m,) how many of these each unit is from the target; 0 where nothing is expected."""
        shown = target.size > 0
        found = np.zeros(len(target.size))
        found[shown] = _distance(target, observed)[shown] / self.deviations(target, allowance)[shown]
        return found


def overdispersion(target: Target, observed: np.ndarray, pulled_in: float = 0.1) -> Overdispersion:
    """
    Estimate the spread of units around a target.

    True outliers are among the units, and would hide themselves: the lowest and highest shares of z are pulled in
    to the quantiles there (linear between order statistics, "type 7"). With chance alone this makes phi a little
    too small.

    Args:
        target: what is expected of each unit.
        observed: (m,) int.
        pulled_in: share at each end, below one half.

    Raises:
        CountError: not one count for each unit.
        ModelError: fewer than two units with something expected of them.

    Source:
        Spiegelhalter (2005), Qual Saf Health Care 14:347-351; tau² as DerSimonian & Laird (1986), Control
        Clin Trials 7:177-188.
    """
    if not 0 <= pulled_in < 0.5:
        raise ValueError(f"The share pulled in at each end is from 0 to below 0.5; {pulled_in} is not.")
    observed = checked_observed(target, observed)
    shown = target.size > 0
    units = int(shown.sum())
    if units < 2:
        raise ModelError(f"The spread between units needs two or more with something expected of them, not {units}.")
    weight = 1 / target.deviation[shown] ** 2
    z = _distance(target, observed)[shown] * np.sqrt(weight)
    low, high = np.quantile(z, [pulled_in, 1 - pulled_in]).tolist()
    phi_raw, phi = float(np.mean(z**2)), float(np.mean(np.clip(z, low, high) ** 2))
    between = (units * phi - (units - 1)) / (weight.sum() - (weight @ weight) / weight.sum())
    test = chi_square_test(units * phi_raw, units)
    return Overdispersion(
        units, phi_raw, phi, low, high, max(float(between), 0.0), test, FEW_UNITS if units < 20 else None
    )


def _distance(target: Target, observed: np.ndarray) -> np.ndarray:
    """(m,) from the target on the stabilised scale; 0 where nothing is expected."""
    value = np.divide(observed, target.size, out=np.full(len(observed), target.centre), where=target.size > 0)
    return target.stabilised(value) - target.stabilised(np.array(target.centre))
