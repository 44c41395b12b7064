"""Shares of a difference that is split into parts, with limits that say the same as those of the parts."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import isfinite, sqrt

import numpy as np

from regdash.stats.difference import DifferenceAt, Side

NOBODY_HAD_IT = "no joint of either group was revised for this reason by then"
ONE_HAS_NONE = "one group has no revision for this reason: its side of the share's limits is the exact bound"
WITHOUT_END = "its limits have no end: one group has no revision for this reason, and too few joints at risk"


@dataclass(frozen=True)
class Share:
    """A part over the whole difference: below 0 where it pulls the other way, above 1 where others do."""

    share: float
    lower: float | None
    upper: float | None
    note: str | None = None


@dataclass(frozen=True)
class _Bound:
    """A group that lacks a reason: how far its risk may lie above 0, and which way that moves the difference."""

    reach: float
    way: int  # 1 in the group that the other is taken from, -1 in the other
    lacks_all: bool  # it has no revision at all

    def moves(self) -> Iterator[tuple[float, float]]:
        """(a, b): a + b s is how far part - s × whole moves at the bound; another reason may be at it instead."""
        yield self.way * self.reach, -self.way * self.reach
        if self.lacks_all:
            yield 0.0, -self.way * self.reach


def shares_of(
    whole: DifferenceAt, parts: list[DifferenceAt], sides: list[tuple[Side, Side]], covariance: np.ndarray, z: float
) -> list[Share]:
    """
    Give one share a part, with the limits of Fieller: all s for which part - s × whole may be 0.

    Where both groups have the reason, they solve (part - s × whole)² = z² × the variance of part - s × whole. A group
    that lacks it would count as known for certain, so its risk may lie anywhere up to its exact bound u: that moves
    part - s × whole by (1 - s) u, added as squares, on the side where it brings it nearer to 0. So a share's limits
    leave out 0 just where those of its part do.

    Args:
        whole: with limits that leave out 0.
        parts: (r) of the reasons, which add up to it.
        sides: (r) the risk of each reason in either group, as `risk_sides`.
        covariance: (r, r) of the parts.

    Source:
        Fieller (1954), JRSS B 16:175-185; bounds added as squares, as Zou & Donner (2008), Stat Med 27:1693-1702,
        do for differences: derived here.
    """
    total = sum(part.difference or 0.0 for part in parts)
    with_whole, of_whole = covariance.sum(axis=1), float(covariance.sum())
    found = []
    for k, (part, (one, other)) in enumerate(zip(parts, sides, strict=True)):
        if one.none_yet and other.none_yet:
            found.append(Share(0.0, None, None, NOBODY_HAD_IT))
            continue
        variance = (float(covariance[k, k]), -2 * float(with_whole[k]), of_whole)  # of part - s × whole, in powers of s
        bound = _bound(one, other, whole)
        found.append(_share(part.difference or 0.0, total, [z**2 * term for term in variance], bound))
    return found


def _bound(one: Side, other: Side, whole: DifferenceAt) -> _Bound | None:
    if one.none_yet:
        return _Bound(one.above or 0.0, 1, whole.first == 0)
    if other.none_yet:
        return _Bound(other.above or 0.0, -1, whole.second == 0)
    return None


def _share(part: float, whole: float, spread: list[float], bound: _Bound | None) -> Share:
    share = part / whole
    square = (part**2 - spread[0], -2 * part * whole - spread[1], whole**2 - spread[2])
    lower, upper = (_end(square, share, whole, bound, outward) for outward in (-1, 1))
    if not (isfinite(lower) and isfinite(upper)):
        return Share(share, None, None, WITHOUT_END)
    return Share(share, lower, upper, ONE_HAS_NONE if bound else None)


def _end(square: tuple[float, float, float], share: float, whole: float, bound: _Bound | None, outward: int) -> float:
    """
    Find the end of the limits above (1) or below (-1) the share.

    On either side part - s × whole has one sign. The end is the furthest s at which its square is just z² × its
    variance, plus that of a move towards 0.
    """
    ends = [root for root in _roots(*square) if outward * (root - share) >= 0]
    towards = outward if whole > 0 else -outward
    for a, b in bound.moves() if bound else ():
        nearer = (square[0] - a**2, square[1] - 2 * a * b, square[2] - b**2)
        if nearer[2] <= 0 and towards * b * outward > 0:
            return outward * float("inf")
        ends += [r for r in _roots(*nearer) if outward * (r - share) >= 0 and towards * (a + b * r) >= 0]
    return outward * max((outward * end for end in ends), default=outward * share)


def _roots(c: float, b: float, a: float) -> tuple[float, ...]:
    """Solve a s² + b s + c = 0; roots that are one but for rounding are found as one, twice."""
    if a == 0:
        return (-c / b,) if b else ()
    inside = b**2 - 4 * a * c
    if inside < -1e-12 * b**2:
        return ()
    root = sqrt(max(inside, 0.0))
    return (-b - root) / (2 * a), (-b + root) / (2 * a)
