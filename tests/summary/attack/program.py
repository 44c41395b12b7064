"""
Unknown whole numbers and linear relations between them: bounds of any sum, by scipy.optimize.linprog and milp (HiGHS).
"""

from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, linprog, milp
from scipy.sparse import csr_matrix, vstack

MOST = 2.0**31


@dataclass
class Program:
    """What a reader does not know (at least 0 each), and what it does; `truth` is there to check relations alone."""

    truth: list[float] = field(default_factory=list)
    _entries: list[tuple[int, int, float]] = field(default_factory=list)  # relation, unknown, factor
    _low: list[float] = field(default_factory=list)
    _high: list[float] = field(default_factory=list)
    _known: set = field(default_factory=set)
    _built: int = -1
    _matrix: csr_matrix | None = None
    _parts: tuple = ()

    def unknown(self, truth: np.ndarray) -> np.ndarray:
        """Add unknowns, and give their places."""
        first = len(self.truth)
        self.truth += truth.ravel().astype(float).tolist()
        return np.arange(first, len(self.truth)).reshape(truth.shape)

    def know(self, parts: np.ndarray, low: float, high: float = np.inf, less: np.ndarray | None = None) -> None:
        """
        Know what a sum of unknowns, less another sum, lies between.

        Raises:
            AssertionError: it does not: the reader would be wrong.
        """
        factors = self._factors(parts, less)
        true = sum(factor * self.truth[place] for place, factor in factors.items())
        assert low <= true + 1e-6, (low, true)
        assert true - 1e-6 <= high, (true, high)
        key = (frozenset(factors.items()), low, high)
        if key in self._known:
            return
        self._known.add(key)
        relation = len(self._low)
        self._entries += [(relation, place, factor) for place, factor in factors.items()]
        self._low.append(low)
        self._high.append(high)

    def bounds(self, parts: np.ndarray, whole: bool = True) -> tuple[int, int]:
        """Find the least and the most that a sum can be; `whole`: in whole numbers, else by the linear program."""
        aim = np.zeros(len(self.truth))
        aim[parts.ravel()] = 1
        ends = [self._end(aim, sign, whole) for sign in (1, -1)]
        return int(np.ceil(ends[0] - 1e-6)), int(np.floor(ends[1] + 1e-6))

    def _factors(self, parts: np.ndarray, less: np.ndarray | None) -> dict[int, float]:
        factors: dict[int, float] = {}
        for places, factor in ((parts, 1.0), (np.empty(0, dtype=int) if less is None else less, -1.0)):
            for place in places.ravel().tolist():
                factors[place] = factors.get(place, 0.0) + factor
        return {place: factor for place, factor in factors.items() if factor}

    def _end(self, aim: np.ndarray, sign: int, whole: bool) -> float:
        if self._built != len(self._low):
            self._build()
        if whole:
            bounds = LinearConstraint(self._matrix, self._low, self._high) if self._low else None
            found = milp(sign * aim, constraints=bounds, bounds=Bounds(0, MOST), integrality=np.ones(len(aim)))
        else:
            options = {"presolve": False}  # three times as fast: one aim after the other on the same relations
            found = linprog(sign * aim, *self._parts, bounds=(0, MOST), method="highs-ds", options=options)
        assert found.status == 0, found.message
        return float(sign * found.fun)

    def _build(self) -> None:
        places = np.array([entry[:2] for entry in self._entries], dtype=int).reshape(-1, 2)
        shape = (len(self._low), len(self.truth))
        self._matrix = csr_matrix(([entry[2] for entry in self._entries], (places[:, 0], places[:, 1])), shape)
        low, high = np.array(self._low), np.array(self._high)
        equal = low == high
        above, below = np.isfinite(high) & ~equal, np.isfinite(low) & ~equal
        matrix = vstack([self._matrix[above], -self._matrix[below]])
        self._parts = matrix, np.concatenate([high[above], -low[below]]), self._matrix[equal], low[equal]
        self._built = len(self._low)
