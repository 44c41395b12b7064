"""Follow-up cut into windows since implantation, so that a hazard ratio may differ between them."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from regdash.errors import ModelError
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.design import Design
from regdash.stats.events import Entries


@dataclass(frozen=True, eq=False)
class SplitCounts:
    """Counts whose patterns are pairs of a covariate pattern and a window. A joint is in every window it reaches."""

    counts: PatternCounts
    pattern: np.ndarray  # (patterns,) int64, the covariate pattern of each
    window: np.ndarray  # (patterns,) int64, and its window
    labels: tuple[str, ...]  # of the windows

    def constant(self, design: Design) -> Design:
        """Columns whose coefficients are the same in every window."""
        return design.of(self.pattern)

    def by_window(self, design: Design) -> Design:
        """Columns that have a coefficient of their own in each window; the terms keep their names."""
        matrix = design.matrix[self.pattern]
        parts = [
            replace(
                design,
                names=tuple(f"{name}, {label}" for name in design.names),
                matrix=matrix * (self.window == number)[:, None],
            )
            for number, label in enumerate(self.labels)
        ]
        return parts[0].beside(*parts[1:])


def split_at(counts: PatternCounts, cuts: Sequence[int], labels: Sequence[str] | None = None) -> SplitCounts:
    """
    Cut follow-up after these days: windows run from after one cut up to and including the next.

    Nothing is lost or added: each risk set lies within one window, so that a model without terms by window
    is the same before and after. Choose the cuts before looking at the curves.

    Args:
        cuts: whole days, rising, from 0 up.
        labels: one more than cuts; left out, "days 0 to 90", "days 91 to 365", "from day 366".

    Raises:
        ModelError: no cuts, cuts that do not rise, or a wrong number of labels.

    >>> split = split_at(PatternCounts(1, [0, 0], [90, 400], [1, 0]), [90])
    >>> split.labels, split.window[split.counts.pattern].tolist(), split.counts.day.tolist()
    (('days 0 to 90', 'from day 91'), [0, 1, 0], [90, 400, 90])
    """
    edges = np.asarray(cuts, dtype=np.int64)
    if not len(edges) or edges[0] < 0 or np.any(np.diff(edges) <= 0) or np.any(edges != np.asarray(cuts)):
        raise ModelError(f"Follow-up is cut after whole days that rise, from day 0 up, not after {list(cuts)}.")
    labels = _labels(edges.tolist()) if labels is None else tuple(labels)
    if len(labels) != len(edges) + 1:
        raise ModelError(f"{len(edges)} cuts make {len(edges) + 1} windows, but there are {len(labels)} labels.")
    size = len(labels)
    key = counts.pattern * size + np.searchsorted(edges, counts.day, side="left")
    crossing, entries = _crossing(counts, edges)
    pattern, cut = np.nonzero(crossing)
    joints = crossing[pattern, cut]
    keys = np.concatenate([key, pattern * size + cut])
    into = pattern * size + cut + 1
    seen = np.bincount(np.concatenate([keys, into]), minlength=counts.patterns * size) > 0
    number, own = np.cumsum(seen) - 1, np.flatnonzero(seen)
    split = PatternCounts(
        len(own),
        number[keys],
        np.concatenate([counts.day, edges[cut]]),
        np.concatenate([counts.event, np.zeros_like(cut)]),
        np.concatenate([counts.weights, joints]),
        None if counts.stratum is None else counts.stratum[own // size],
        Entries(
            number[np.concatenate([into, entries.group])],
            np.concatenate([edges[cut], entries.day]),
            np.concatenate([joints, entries.joints]),
        ),
        checked=True,
    )
    return SplitCounts(split, own // size, own % size, labels)


def _crossing(counts: PatternCounts, edges: np.ndarray) -> tuple[np.ndarray, Entries]:
    """(patterns, cuts) joints in follow-up on each cut and after it; and the entries, by pattern and window."""
    size = len(edges) + 1
    window = counts.pattern * size + np.searchsorted(edges, counts.day, side="left")
    there = np.bincount(window, counts.weights, counts.patterns * size).reshape(-1, size)
    if counts.entered is None:
        nobody = np.zeros(0, dtype=np.int64)
        entries = Entries(nobody, nobody, nobody)
    else:
        given = counts.entered
        # Who enters on a cut is at risk from the day after it: in the window that begins there.
        first = given.group * size + np.searchsorted(edges, given.day, side="right")
        entries = Entries(first, given.day, given.joints)
        there = there - np.bincount(first, given.joints, counts.patterns * size).reshape(-1, size)
    later = np.cumsum(there[:, ::-1], axis=1)[:, ::-1]
    return later[:, 1:].astype(np.int64), entries


def _labels(edges: list[int]) -> tuple[str, ...]:
    starts = [0, *(edge + 1 for edge in edges)]
    windows = [f"days {start} to {end}" for start, end in zip(starts, edges, strict=False)]
    return (*windows, f"from day {starts[-1]}")
